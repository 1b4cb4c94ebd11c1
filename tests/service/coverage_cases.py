"""The cases of coverage: what a clerk would say of each, and which rule answers how.

The base case is covered: a compressor that failed in its second year, with all that is asked for.
Each case changes what its sentence names.
"""

from dataclasses import replace
from datetime import date, timedelta

from service.engineering.coverage import (
    Cover,
    Covered,
    Dated,
    Facts,
    Ref,
    Said,
    TermsFacts,
    Verdict,
)
from service.engineering.run_hours import Night

INSTALL, TERMS, NIGHTS = Ref("install", 1), Ref("terms", 2), Ref("nights", 3)
CERTIFICATE, RECORD, VISIT, OTHER = Ref("certificate", 4), Ref("step_record", 5), Ref("visit", 6), 7
VOIDS = (
    "no_certificate",
    "no_evacuation_record",
    "cutoff_below_floor",
    "overcharge",
    "uncertified_work",
    "moved_by_others",
)
COVERS = {
    "compressor": Cover(36, 6000),
    "electronics": Cover(24, 4000),
    "fans": Cover(24, from_first_use=True),
    "coils": Cover(36),
    "hoses": Cover(12),
    "labour": Cover(12),
    "refrigerant": Cover(12),
    "remote": Cover(0),
}
SHOP_TERMS = TermsFacts(TERMS, COVERS, voids=VOIDS, claim_days=30)
INSTALLED_ON, FAILED_ON = date(2024, 3, 4), date(2025, 6, 10)
BASE = Facts(
    part_group="compressor",
    failed_on=FAILED_ON,
    claimed_on=FAILED_ON + timedelta(days=5),
    terms=SHOP_TERMS,
    installed=Dated(INSTALLED_ON, INSTALL),
    first_use=Dated(date(2024, 3, 9), NIGHTS),
    meter_h=2100.0,
    meter_ref=VISIT,
    first_owner=1,
    owner=1,
    voids={code: Said(False, (RECORD,)) for code in VOIDS},
    evidence={kind: (Ref(kind, 1),) for kind in ("certificate", "readings", "photos", "movements")},
)
H, F, C = Verdict.HOLDS, Verdict.FAILS, Verdict.CANNOT_SAY


def terms(**changes) -> dict:
    return {"terms": replace(SHOP_TERMS, **changes)}


def nights(count: int, run_h: float, every: int = 1) -> dict:
    """So many nights of so many hours from the install on, and no meter."""
    rows = tuple(Night(INSTALLED_ON + timedelta(days=every * n), run_h) for n in range(count))
    return {"meter_h": None, "nights": rows, "nights_ref": NIGHTS}


def void(code: str, so: bool | None) -> dict:
    return {"voids": BASE.voids | {code: Said(so, (RECORD,))}}


def on(day: date, late: int = 5) -> dict:
    """Failed on a day and claimed so many days later."""
    return {"failed_on": day, "claimed_on": day + timedelta(days=late)}


def without(kind: str) -> dict:
    return {"evidence": {name: refs for name, refs in BASE.evidence.items() if name != kind}}


LATE_JANUARY = {"installed": Dated(date(2025, 1, 31), INSTALL)}
LEAP_DAY = {"installed": Dated(date(2024, 2, 29), INSTALL)}
PUT_IN = {"replaced": Dated(date(2025, 3, 1), VISIT)}
OWN_YEAR = terms(own_months=12)
ONE_MONTH = terms(covers={"compressor": Cover(1)})
A_YEAR = terms(covers={"compressor": Cover(12)})
FIRST_USE = terms(covers={"compressor": Cover(12, from_first_use=True)})
TWENTY_HOURS = terms(covers={"compressor": Cover(36, 20)})

CASES = [
    ("A compressor of fifteen months with all its papers is covered.", {}, "months", H),
    ("Nobody gave this unit any terms.", {"terms": None}, "terms", F),
    ("No install is on record, so nobody can say when it began.", {"installed": None}, "begun", C),
    ("It failed in the stock before it was ever put in.", on(date(2024, 3, 3)), "begun", F),
    ("It failed on the very day it was put in.", on(INSTALLED_ON), "begun", H),
    # Months, whichever first: the last day belongs to the cover.
    ("It failed on the last day of its 36 months.", on(date(2027, 3, 4)), "months", H),
    ("It failed one day after its 36 months.", on(date(2027, 3, 5)), "months", F),
    (
        "Put in on 31 January with one month: the last of February is still covered.",
        LATE_JANUARY | ONE_MONTH | on(date(2025, 2, 28)),
        "months",
        H,
    ),
    (
        "Put in on 31 January with one month: the first of March is not.",
        LATE_JANUARY | ONE_MONTH | on(date(2025, 3, 1)),
        "months",
        F,
    ),
    (
        "In a leap year one month from 31 January runs through the 29th.",
        {"installed": Dated(date(2024, 1, 31), INSTALL)} | ONE_MONTH | on(date(2024, 2, 29)),
        "months",
        H,
    ),
    (
        "Put in on a leap day with twelve months: 28 February of the next year is covered.",
        LEAP_DAY | A_YEAR | on(date(2025, 2, 28)),
        "months",
        H,
    ),
    (
        "Put in on a leap day with twelve months: 1 March of the next year is not.",
        LEAP_DAY | A_YEAR | on(date(2025, 3, 1)),
        "months",
        F,
    ),
    (
        "Hoses have twelve months, and this one burst in the fifteenth.",
        {"part_group": "hoses"},
        "months",
        F,
    ),
    (
        "The terms name the remote with no months at all.",
        {"part_group": "remote"},
        "part_group",
        F,
    ),
    ("The terms do not speak of travel.", {"part_group": "travel"}, "part_group", F),
    # First use.
    (
        "The year counts from the first night, five days after the install.",
        FIRST_USE | on(date(2025, 3, 9)),
        "months",
        H,
    ),
    (
        "A day past a year from the first night is too late.",
        FIRST_USE | on(date(2025, 3, 10)),
        "months",
        F,
    ),
    (
        "Nobody knows the first use, but within a year of the install it is covered anyhow.",
        FIRST_USE | {"first_use": None} | on(date(2025, 3, 4)),
        "months",
        H,
    ),
    (
        "Nobody knows the first use, and the year from the install is over: ask.",
        FIRST_USE | {"first_use": None} | on(date(2025, 3, 5)),
        "months",
        C,
    ),
    # Run hours.
    ("The meter shows exactly the 6000 hours.", {"meter_h": 6000.0}, "run_hours", H),
    ("The meter shows an hour more than 6000.", {"meter_h": 6001.0}, "run_hours", F),
    (
        "Coils have no limit on hours, so the meter does not matter.",
        {"part_group": "coils", "meter_h": 90_000.0},
        "months",
        H,
    ),
    ("Every night is on record and they add up to less.", nights(464, 10.0), "run_hours", H),
    ("The nights on record alone are beyond the limit.", nights(464, 13.0), "run_hours", F),
    (
        "Half of the nights are on record: even at that rate on all others it is within.",
        nights(232, 8.0, every=2),
        "run_hours",
        H,
    ),
    (
        "Half of the nights are on record, and at that rate it would be over: ask for the meter.",
        nights(232, 14.0, every=2),
        "run_hours",
        C,
    ),
    (
        "No night is on record, and in 464 days it may have run more than 6000 hours.",
        {"meter_h": None},
        "run_hours",
        C,
    ),
    (
        "No night is on record, but in 240 days no unit runs 6000 hours.",
        {"meter_h": None} | on(INSTALLED_ON + timedelta(days=240)),
        "run_hours",
        H,
    ),
    (
        "Within its months, but beyond its hours: whichever comes first.",
        TWENTY_HOURS | {"meter_h": 21.0},
        "run_hours",
        F,
    ),
    # A replaced part.
    (
        "A compressor put in last year has the rest of the old one's time.",
        PUT_IN | on(date(2027, 3, 4)),
        "months",
        H,
    ),
    (
        "The rest of the old one's time is over, however new the part.",
        PUT_IN | on(date(2027, 3, 5)),
        "months",
        F,
    ),
    (
        "By these terms the new part has a year of its own.",
        PUT_IN | OWN_YEAR | on(date(2026, 3, 1)),
        "months",
        H,
    ),
    (
        "Its own year is over, though the first part's time would not be.",
        PUT_IN | OWN_YEAR | on(date(2026, 3, 2)),
        "months",
        F,
    ),
    (
        "It has hours of its own too: 5 in the unit's life cannot be more than 20 in the part's.",
        PUT_IN | terms(own_months=12, covers={"compressor": Cover(36, 20)}) | {"meter_h": 5.0},
        "run_hours",
        H,
    ),
    # Owners.
    (
        "The truck was sold, and the terms go with it.",
        {"owner": 2},
        "months",
        H,
    ),
    (
        "The truck was sold, and these terms do not go with it.",
        {"owner": 2} | terms(transferable=False),
        "same_owner",
        F,
    ),
    (
        "These terms stay with the first owner, who still has the truck.",
        terms(transferable=False),
        "same_owner",
        H,
    ),
    (
        "These terms stay with the first owner, and nobody knows whose truck it was.",
        {"owner": None} | terms(transferable=False),
        "same_owner",
        C,
    ),
    # What voids.
    (
        "It was never proved: no certificate.",
        void("no_certificate", True),
        "void_no_certificate",
        F,
    ),
    (
        "There is no record that it was evacuated.",
        void("no_evacuation_record", True),
        "void_no_evacuation_record",
        F,
    ),
    (
        "The cutoff was set below what the batteries survive.",
        void("cutoff_below_floor", True),
        "void_cutoff_below_floor",
        F,
    ),
    (
        "Nobody wrote down how the cutoff was set.",
        void("cutoff_below_floor", None),
        "void_cutoff_below_floor",
        C,
    ),
    ("Somebody put in too much refrigerant.", void("overcharge", True), "void_overcharge", F),
    (
        "Somebody without a certificate opened the circuit.",
        void("uncertified_work", True),
        "void_uncertified_work",
        F,
    ),
    (
        "The fleet moved the unit to another truck by itself.",
        void("moved_by_others", True),
        "void_moved_by_others",
        F,
    ),
    (
        "It is in another truck now, and nobody knows who moved it.",
        void("moved_by_others", None),
        "void_moved_by_others",
        C,
    ),
    (
        "Too much refrigerant, but these terms do not mind.",
        void("overcharge", True) | terms(voids=("no_certificate",)),
        "void_no_certificate",
        H,
    ),
    # Twice.
    (
        "This serial was claimed before.",
        {"same_serial": (Ref("claim", OTHER),)},
        "claimed_once",
        F,
    ),
    (
        "A compressor of this unit was claimed before, and no serial tells which.",
        {"same_part": (Ref("claim", OTHER),)},
        "claimed_once",
        C,
    ),
    # Evidence.
    ("There are no photos of the compressor.", without("photos"), "evidence_photos", C),
    ("Nobody took readings at the visit.", without("readings"), "evidence_readings", C),
    ("The certificate is not to be found.", without("certificate"), "evidence_certificate", C),
    (
        "A hose without the refrigerant weighed back in is not shown yet.",
        {"part_group": "hoses"} | on(date(2024, 6, 1)) | without("movements"),
        "evidence_movements",
        C,
    ),
    # In time.
    ("Claimed on the thirtieth day.", on(FAILED_ON, late=30), "deadline", H),
    ("Claimed on the thirty-first day.", on(FAILED_ON, late=31), "deadline", F),
    # What goes with a part.
    (
        "The labour goes with a compressor that is covered.",
        {"part_group": "labour", "parts_covered": Covered.COVERED} | on(date(2024, 9, 1)),
        "with_part",
        H,
    ),
    (
        "No part is covered, so neither is the labour on it.",
        {"part_group": "labour", "parts_covered": Covered.NOT_COVERED} | on(date(2024, 9, 1)),
        "with_part",
        F,
    ),
    (
        "The refrigerant waits for what becomes of the coil.",
        {"part_group": "refrigerant", "parts_covered": Covered.CANNOT_SAY} | on(date(2024, 9, 1)),
        "with_part",
        C,
    ),
]
