"""What a failure has cost: the sums of settled claims, by the group of the part that failed."""

from collections import Counter, defaultdict
from decimal import Decimal
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from service.models import Claim, LineKind

__all__ = ["Costs", "failure_costs"]

FEWEST_CLAIMS = 3


class Costs(NamedTuple):
    """Cents of each claim by part group, all in one currency, the one that most claims are in."""

    currency: str
    by_group: dict[str, list[int]]

    def of(self, group: str) -> tuple[NDArray[np.int64], bool]:
        """What to draw from, and whether it is the group's own; too few claims are joined by all."""
        own = self.by_group.get(group, [])
        if len(own) >= FEWEST_CLAIMS:
            return np.array(own), True
        every = [cents for some in self.by_group.values() for cents in some]
        return np.array(every if len(every) >= FEWEST_CLAIMS else [], dtype=int), False


def failure_costs(user) -> Costs:
    """Return what was approved of each claim for one part group, before any maker's credit."""
    settled = [
        (claim, approved)
        for claim in Claim.objects.visible_to(user).prefetch_related("lines", "steps")
        if (approved := claim.approved)
    ]
    if not settled:
        return Costs("", {})
    currency = Counter(claim.currency for claim, _sum in settled).most_common(1)[0][0]
    by_group: dict[str, list[int]] = defaultdict(list)
    for claim, approved in settled:
        groups = {line.part_group for line in claim.lines.all() if line.kind == LineKind.PART}
        if claim.currency == currency and len(groups) == 1:
            by_group[groups.pop()].append(int(approved * Decimal(100)))
    return Costs(currency, dict(by_group))
