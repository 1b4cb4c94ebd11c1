"""Whether a part that failed is covered, rule by rule, each with the record that it rests on.

A rule holds, fails, or cannot be said from what is on record. One that fails is enough to decline;
one that cannot be said is what the clerk asks for next. Nothing is covered by silence.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta
from enum import StrEnum
from typing import NamedTuple

from dateutil.relativedelta import relativedelta

from service.engineering.run_hours import Night, RunHours, run_hours

__all__ = [
    "EVIDENCE",
    "Assessment",
    "Cover",
    "Covered",
    "Dated",
    "Facts",
    "Ref",
    "Rule",
    "Said",
    "TermsFacts",
    "Verdict",
    "assess",
    "overall",
]

# What a claim on each group of parts is shown with. Common practice, no source.
EVIDENCE = {
    "compressor": ("certificate", "readings", "photos"),
    "electronics": ("certificate", "photos"),
    "fans": ("photos",),
    "coils": ("readings", "photos"),
    "hoses": ("photos", "movements"),
    "remote": ("photos",),
    "labour": (),
    "refrigerant": ("movements",),
    "travel": (),
}
# What is done for a part, and is covered with one only.
FOR_A_PART = ("labour", "refrigerant", "travel")


class Verdict(StrEnum):
    HOLDS = "holds"
    FAILS = "fails"
    CANNOT_SAY = "cannot_say"


class Covered(StrEnum):
    COVERED = "covered"
    NOT_COVERED = "not_covered"
    CANNOT_SAY = "cannot_say"


class Ref(NamedTuple):
    """A record that a rule rests on: what it is, and its key in the database."""

    kind: str
    key: int


class Dated(NamedTuple):
    """A day, and the record that says it."""

    on: date
    ref: Ref


class Said(NamedTuple):
    """Whether something is so; None where nobody can say, with the records that were looked at."""

    so: bool | None
    rests_on: tuple[Ref, ...] = ()


@dataclass(frozen=True)
class Cover:
    """How long a group of parts is covered: months or run hours, whichever ends first."""

    months: int
    run_hours: float | None = None
    from_first_use: bool = False


@dataclass(frozen=True)
class TermsFacts:
    """Terms as data. `own_months` is a replaced part's own time; None: the rest of the old part's."""

    ref: Ref
    covers: Mapping[str, Cover]
    transferable: bool = True
    own_months: int | None = None
    voids: tuple[str, ...] = ()
    claim_days: int = 30


@dataclass(frozen=True)
class Facts:
    """What is on record of one thing that is claimed.

    `failed_on` is the day of the failure, `claimed_on` the day of submission, or today for what is
    not submitted yet. `first_owner` and `owner` are whose truck it was at the first install and at
    the failure. `replaced` is when the part that failed was itself put in for another. `voids` and
    `evidence` are by code and by kind. `parts_covered` is what became of the parts on the same
    claim; None where there is none.
    """

    part_group: str
    failed_on: date
    claimed_on: date
    terms: TermsFacts | None
    installed: Dated | None = None
    first_use: Dated | None = None
    nights: tuple[Night, ...] = ()
    nights_ref: Ref | None = None
    meter_h: float | None = None
    meter_ref: Ref | None = None
    first_owner: int | None = None
    owner: int | None = None
    replaced: Dated | None = None
    voids: Mapping[str, Said] = field(default_factory=dict)
    same_serial: tuple[Ref, ...] = ()
    same_part: tuple[Ref, ...] = ()
    evidence: Mapping[str, tuple[Ref, ...]] = field(default_factory=dict)
    parts_covered: Covered | None = None


class Rule(NamedTuple):
    """One rule as it stands: `numbers` are days, hours and counts by name."""

    code: str
    verdict: Verdict
    rests_on: tuple[Ref, ...] = ()
    numbers: Mapping[str, date | float | int | None] = {}


class Assessment(NamedTuple):
    """All rules, what follows from them, and until when it is covered and must be claimed."""

    rules: list[Rule]
    covered: Covered
    ends_on: date | None
    deadline: date | None

    def days_left(self, today: date) -> int | None:
        """Days until the deadline, below 0 once it has passed; None without terms."""
        return None if self.deadline is None else (self.deadline - today).days


def assess(facts: Facts) -> Assessment:
    """Return every rule for what is claimed, in the order in which a clerk asks."""
    if facts.terms is None:
        return Assessment([Rule("terms", Verdict.FAILS)], Covered.NOT_COVERED, None, None)
    rules = [
        Rule("terms", Verdict.HOLDS, (facts.terms.ref,)),
        _begun(facts),
        *_time(facts, facts.terms),
        *_owner(facts, facts.terms),
        *_with_part(facts),
        *_voids(facts, facts.terms),
        _twice(facts),
        *_evidence(facts),
    ]
    deadline = facts.failed_on + timedelta(days=facts.terms.claim_days)
    rules.append(_deadline(facts, facts.terms, deadline))
    ends = [rule.numbers["ends_on"] for rule in rules if rule.code == "months"]
    return Assessment(rules, _covered(rules), ends[0] if ends else None, deadline)


def overall(each: list[Covered]) -> Covered:
    """What holds of a whole claim: covered only where all of it is."""
    for worst in (Covered.NOT_COVERED, Covered.CANNOT_SAY):
        if worst in each:
            return worst
    return Covered.COVERED if each else Covered.CANNOT_SAY


def _covered(rules: list[Rule]) -> Covered:
    verdicts = {rule.verdict for rule in rules}
    if Verdict.FAILS in verdicts:
        return Covered.NOT_COVERED
    return Covered.CANNOT_SAY if Verdict.CANNOT_SAY in verdicts else Covered.COVERED


def _is(so: bool | None) -> Verdict:
    if so is None:
        return Verdict.CANNOT_SAY
    return Verdict.HOLDS if so else Verdict.FAILS


def _begun(facts: Facts) -> Rule:
    """It was installed when it failed."""
    if facts.installed is None:
        return Rule("begun", Verdict.CANNOT_SAY)
    on, ref = facts.installed
    numbers = {"installed_on": on, "failed_on": facts.failed_on}
    return Rule("begun", _is(facts.failed_on >= on), (ref,), numbers)


def _time(facts: Facts, terms: TermsFacts) -> Iterator[Rule]:
    """The group is covered, and neither its months nor its run hours had run out."""
    cover = terms.covers.get(facts.part_group)
    covered = cover is not None and cover.months > 0
    yield Rule("part_group", _is(covered), (terms.ref,))
    if not covered:
        return
    own = facts.replaced is not None and terms.own_months is not None
    months = terms.own_months if own else cover.months
    start, certain = _start(facts, cover, own)
    yield _months(facts, terms, start, certain, months)
    if facts.replaced is not None:
        numbers = {"replaced_on": facts.replaced.on, "own_months": terms.own_months}
        yield Rule("replaced", Verdict.HOLDS, (facts.replaced.ref, terms.ref), numbers)
    if cover.run_hours is not None:
        yield _hours(facts, terms, cover.run_hours, start, own)


def _start(facts: Facts, cover: Cover, own: bool) -> tuple[Dated | None, bool]:
    """The day that time counts from, and whether it is that day and not perhaps a later one."""
    if own:
        return facts.replaced, True
    if cover.from_first_use:
        return (facts.first_use, True) if facts.first_use else (facts.installed, False)
    return facts.installed, True


def _months(
    facts: Facts, terms: TermsFacts, start: Dated | None, certain: bool, months: int
) -> Rule:
    """The last day belongs to it: 31 January + 1 month is the last of February."""
    if start is None:
        numbers = {"months": months, "ends_on": None}
        return Rule("months", Verdict.CANNOT_SAY, (terms.ref,), numbers)
    ends_on = start.on + relativedelta(months=months)
    within = facts.failed_on <= ends_on
    numbers = {
        "months": months,
        "counted_from": start.on,
        "ends_on": ends_on,
        "failed_on": facts.failed_on,
    }
    verdict = _is(True if within else False if certain else None)
    return Rule("months", verdict, (start.ref, terms.ref), numbers)


def _hours(facts: Facts, terms: TermsFacts, limit_h: float, start: Dated | None, own: bool) -> Rule:
    """Within the limit for certain, beyond it for certain, or neither."""
    ran, refs = _ran(facts, start, own)
    if ran is None:
        return Rule("run_hours", Verdict.CANNOT_SAY, (terms.ref,), {"limit_h": limit_h})
    so = True if ran.high_h <= limit_h else False if ran.low_h > limit_h else None
    numbers = {"limit_h": limit_h, **ran._asdict()}
    return Rule("run_hours", _is(so), (*refs, terms.ref), numbers)


def _ran(facts: Facts, start: Dated | None, own: bool) -> tuple[RunHours | None, tuple[Ref, ...]]:
    """How long it ran: by the meter, or by its nights; a replaced part at most what the unit did."""
    meter_refs = (facts.meter_ref,) if facts.meter_ref else ()
    if facts.meter_h is not None and not own:
        return RunHours.read(facts.meter_h), meter_refs
    if start is None:
        return None, ()
    ran = run_hours(facts.nights, start.on, facts.failed_on)
    refs = (facts.nights_ref,) if facts.nights_ref else (start.ref,)
    if facts.meter_h is not None:
        return ran.at_most(facts.meter_h), (*refs, *meter_refs)
    return ran, refs


def _owner(facts: Facts, terms: TermsFacts) -> Iterator[Rule]:
    """Terms that do not go with the truck ask whose it is."""
    if terms.transferable:
        return
    known = facts.first_owner is not None and facts.owner is not None
    so = facts.first_owner == facts.owner if known else None
    rests_on = (facts.installed.ref, terms.ref) if facts.installed else (terms.ref,)
    yield Rule("same_owner", _is(so), rests_on)


def _with_part(facts: Facts) -> Iterator[Rule]:
    """Labour, refrigerant and travel go with the part; without one they stand by themselves."""
    if facts.part_group in FOR_A_PART and facts.parts_covered is not None:
        verdicts = {
            Covered.COVERED: Verdict.HOLDS,
            Covered.NOT_COVERED: Verdict.FAILS,
            Covered.CANNOT_SAY: Verdict.CANNOT_SAY,
        }
        yield Rule("with_part", verdicts[facts.parts_covered])


def _voids(facts: Facts, terms: TermsFacts) -> Iterator[Rule]:
    """Each thing that ends cover by these terms, and is not so."""
    for code in terms.voids:
        said = facts.voids.get(code, Said(None))
        so = None if said.so is None else not said.so
        yield Rule(f"void_{code}", _is(so), said.rests_on)


def _twice(facts: Facts) -> Rule:
    """The same serial is claimed once; the same part without a serial asks for a look."""
    if facts.same_serial:
        return Rule("claimed_once", Verdict.FAILS, facts.same_serial)
    if facts.same_part:
        return Rule("claimed_once", Verdict.CANNOT_SAY, facts.same_part)
    return Rule("claimed_once", Verdict.HOLDS)


def _evidence(facts: Facts) -> Iterator[Rule]:
    for kind in EVIDENCE[facts.part_group]:
        refs = facts.evidence.get(kind, ())
        yield Rule(f"evidence_{kind}", _is(True if refs else None), refs, {"count": len(refs)})


def _deadline(facts: Facts, terms: TermsFacts, deadline: date) -> Rule:
    """The last day to claim on belongs to it."""
    numbers = {
        "claim_days": terms.claim_days,
        "deadline": deadline,
        "claimed_on": facts.claimed_on,
        "days_left": (deadline - facts.claimed_on).days,
    }
    return Rule("deadline", _is(facts.claimed_on <= deadline), (terms.ref,), numbers)
