"""How many examples a property of the whole screen is tried on: each is a fleet, so a few."""

from hypothesis import Phase, settings

# One fleet is as simple as another: there is nothing to gain from shrinking to a smaller seed.
few = settings(
    max_examples=6,
    deadline=None,
    phases=(Phase.explicit, Phase.reuse, Phase.generate),
    report_multiple_bugs=False,
)
