"""The rules of coverage in words: what each asks, and what it says of a claim."""

from collections.abc import Callable
from datetime import date

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from installs.models import VoidCode
from service.engineering.coverage import Covered, Ref, Rule, Verdict

__all__ = ["covered_label", "ref_words", "rule_label", "rule_words", "verdict_label"]

VERDICTS = {
    Verdict.HOLDS: gettext_lazy("holds"),
    Verdict.FAILS: gettext_lazy("fails"),
    Verdict.CANNOT_SAY: gettext_lazy("cannot say"),
}
COVERED = {
    Covered.COVERED: gettext_lazy("covered"),
    Covered.NOT_COVERED: gettext_lazy("not covered"),
    Covered.CANNOT_SAY: gettext_lazy("cannot say yet"),
}
LABELS = {
    "terms": gettext_lazy("Terms are given"),
    "begun": gettext_lazy("Installed when it failed"),
    "part_group": gettext_lazy("The part group is covered"),
    "months": gettext_lazy("Within its months"),
    "replaced": gettext_lazy("A part that was replaced before"),
    "run_hours": gettext_lazy("Within its run hours"),
    "same_owner": gettext_lazy("Still the first owner's"),
    "with_part": gettext_lazy("Goes with a covered part"),
    "claimed_once": gettext_lazy("Claimed once"),
    "evidence_certificate": gettext_lazy("Evidence: certificate of the install"),
    "evidence_readings": gettext_lazy("Evidence: readings of the visit"),
    "evidence_photos": gettext_lazy("Evidence: photos of the visit"),
    "evidence_movements": gettext_lazy("Evidence: refrigerant weighed at the visit"),
    "deadline": gettext_lazy("Claimed in time"),
}
VOID_ASKS = {
    VoidCode.NO_CERTIFICATE: gettext_lazy("Certificate of the install"),
    VoidCode.NO_EVACUATION_RECORD: gettext_lazy("Record of the evacuation"),
    VoidCode.CUTOFF_BELOW_FLOOR: gettext_lazy("Cutoff not below the floor"),
    VoidCode.OVERCHARGE: gettext_lazy("Not overcharged"),
    VoidCode.UNCERTIFIED_WORK: gettext_lazy("Worked on by certified people only"),
    VoidCode.MOVED_BY_OTHERS: gettext_lazy("Not moved by others"),
}
VOID_SAYS = {
    "no_certificate": (
        gettext_lazy("There is a certificate that stands."),
        gettext_lazy("There is no certificate that stands for this truck."),
        gettext_lazy("The unit stood in no truck on record, so no certificate can be looked up."),
    ),
    "no_evacuation_record": (
        gettext_lazy("The evacuation is on record."),
        gettext_lazy("No evacuation is on record for this truck."),
        gettext_lazy("The unit stood in no truck on record, so no evacuation can be looked up."),
    ),
    "cutoff_below_floor": (
        gettext_lazy("The cutoff on record is not below what the battery bank survives."),
        gettext_lazy("The cutoff on record is below what the battery bank survives."),
        gettext_lazy("No cutoff is on record, or the kind of battery is not known."),
    ),
    "overcharge": (
        gettext_lazy("What was charged and added is not above the nameplate charge."),
        gettext_lazy("More was charged and added than the nameplate allows."),
        gettext_lazy("No weighed charge is on record to count from."),
    ),
    "uncertified_work": (
        gettext_lazy("Nobody without an accepted certificate is on record as moving refrigerant."),
        gettext_lazy("Refrigerant was moved by someone with no accepted certificate on that day."),
        gettext_lazy("It is not on record who moved refrigerant."),
    ),
    "moved_by_others": (
        gettext_lazy("Each install is the shop's own."),
        gettext_lazy("The customer says that others moved the unit."),
        gettext_lazy("It is not on record who moved the unit to another truck."),
    ),
}


def verdict_label(verdict: str) -> str:
    return str(VERDICTS[Verdict(verdict)])


def covered_label(covered: str) -> str:
    return str(COVERED[Covered(covered)])


def rule_label(code: str) -> str:
    """What a rule asks, as a heading; also of a rule kept with an old decision."""
    void = code.removeprefix("void_")
    return str(VOID_ASKS[VoidCode(void)] if void != code else LABELS[code])


def rule_words(rule: Rule) -> tuple[str, str]:
    """What a rule asks, and what it says as it stands; numbers are days, hours and counts."""
    label = rule_label(rule.code)
    if rule.code.startswith("void_"):
        words = VOID_SAYS[rule.code.removeprefix("void_")]
        return label, str(words[list(Verdict).index(Verdict(rule.verdict))])
    if rule.code.startswith("evidence_"):
        return label, _evidence(rule)
    return label, SAYS[rule.code](Verdict(rule.verdict), _shown(rule))


def ref_words(ref: Ref) -> str:
    """What kind of record a rule rests on."""
    kinds = {
        "terms": _("terms"),
        "install": _("install"),
        "visit": _("visit"),
        "nights": _("overnights"),
        "certificate": _("certificate"),
        "step_record": _("step record"),
        "movement": _("refrigerant movement"),
        "reading": _("reading"),
        "visit_photo": _("photo"),
        "claim": _("claim"),
    }
    return kinds[ref.kind]


def _shown(rule: Rule) -> dict[str, object]:
    """Numbers as they are read: days in ISO 8601, hours whole."""
    return {name: _number(value) for name, value in rule.numbers.items()}


def _number(value: date | float | int | str | None) -> object:
    if isinstance(value, date):
        return date_format(value, "Y-m-d")
    return round(value) if isinstance(value, float) else value


def _evidence(rule: Rule) -> str:
    count = len(rule.rests_on)
    if not count:
        return _("Missing.")
    return ngettext("%(count)d is there.", "%(count)d are there.", count) % {"count": count}


def _terms(verdict: Verdict, shown: dict) -> str:
    if verdict == Verdict.HOLDS:
        return _("The unit came under terms when it was first installed.")
    return _("No terms on record were given to this unit.")


def _begun(verdict: Verdict, shown: dict) -> str:
    if verdict == Verdict.CANNOT_SAY:
        return _("No install is on record.")
    if verdict == Verdict.HOLDS:
        return _("Installed on %(installed_on)s, failed on %(failed_on)s.") % shown
    return _("It failed on %(failed_on)s, before it was installed on %(installed_on)s.") % shown


def _part_group(verdict: Verdict, shown: dict) -> str:
    if verdict == Verdict.HOLDS:
        return _("The terms name this part group.")
    return _("The terms do not cover this part group.")


def _months(verdict: Verdict, shown: dict) -> str:
    if shown.get("counted_from") is None:
        return _("The day that the months count from is not on record.")
    words = {
        Verdict.HOLDS: _(
            "%(months)s months from %(counted_from)s: covered through %(ends_on)s; it failed on "
            "%(failed_on)s."
        ),
        Verdict.FAILS: _(
            "%(months)s months from %(counted_from)s ended on %(ends_on)s; it failed on "
            "%(failed_on)s."
        ),
        Verdict.CANNOT_SAY: _(
            "The first use is not on record. Counted from the install the months ended on "
            "%(ends_on)s; it failed on %(failed_on)s."
        ),
    }
    return words[verdict] % shown


def _replaced(verdict: Verdict, shown: dict) -> str:
    if shown.get("own_months") is None:
        return (
            _("It was put in on %(replaced_on)s and has the rest of the old part's time.") % shown
        )
    return _("It was put in on %(replaced_on)s and has %(own_months)s months of its own.") % shown


def _run_hours(verdict: Verdict, shown: dict) -> str:
    if shown.get("low_h") is None:
        return _("Nothing says how long it ran; the limit is %(limit_h)s h.") % shown
    if shown["low_h"] == shown["high_h"]:
        return _("It ran %(low_h)s h; the limit is %(limit_h)s h.") % shown
    if shown.get("middle_h") is None:
        return _("It ran between %(low_h)s h and %(high_h)s h; the limit is %(limit_h)s h.") % shown
    return (
        _(
            "It ran about %(middle_h)s h (at least %(low_h)s h on record, at most %(high_h)s h, with "
            "nothing on record of %(unseen_days)s days); the limit is %(limit_h)s h."
        )
        % shown
    )


def _same_owner(verdict: Verdict, shown: dict) -> str:
    words = {
        Verdict.HOLDS: _("The truck is still the first owner's."),
        Verdict.FAILS: _("The truck has another owner, and these terms do not go with it."),
        Verdict.CANNOT_SAY: _("It is not on record whose truck it was."),
    }
    return words[verdict]


def _with_part(verdict: Verdict, shown: dict) -> str:
    words = {
        Verdict.HOLDS: _("A part on this claim is covered."),
        Verdict.FAILS: _("No part on this claim is covered."),
        Verdict.CANNOT_SAY: _("Whether a part on this claim is covered cannot be said yet."),
    }
    return words[verdict]


def _claimed_once(verdict: Verdict, shown: dict) -> str:
    words = {
        Verdict.HOLDS: _("No other claim is on this part."),
        Verdict.FAILS: _("Another claim is on a part of this serial."),
        Verdict.CANNOT_SAY: _(
            "Another claim on this unit is on the same part, and no serial tells them apart."
        ),
    }
    return words[verdict]


def _deadline(verdict: Verdict, shown: dict) -> str:
    if verdict == Verdict.FAILS:
        return (
            _("It had to be claimed by %(deadline)s, %(claim_days)s days after it failed.") % shown
        )
    return _("To be claimed by %(deadline)s, %(claim_days)s days after it failed.") % shown


SAYS: dict[str, Callable[[Verdict, dict], str]] = {
    "terms": _terms,
    "begun": _begun,
    "part_group": _part_group,
    "months": _months,
    "replaced": _replaced,
    "run_hours": _run_hours,
    "same_owner": _same_owner,
    "with_part": _with_part,
    "claimed_once": _claimed_once,
    "deadline": _deadline,
}
