"""What a screening makes of the concerns: begins them, says them again, and lets them go.

A concern that two runs in a row do not say any more is withdrawn, unless it is booked or confirmed:
then a person has to say what was found.
"""

from django.db.models import Max
from django.utils.translation import gettext as _
from simple_history.utils import bulk_create_with_history

from reports.models import Concern, Finding, ScreenRun

__all__ = ["tie_to_concerns"]

Standing = dict[tuple, Concern]


def tie_to_concerns(run: ScreenRun, findings: list[Finding]) -> None:
    """Give each unsaved finding of a run its concern; to be called in the run's own transaction.

    The newest run begins and withdraws concerns. A run for an earlier day changes none: its
    findings take the concerns that stood on that day, if any.
    """
    if ScreenRun.objects.filter(as_of__gt=run.as_of).exists():
        _tie_as_it_stood(run, findings)
        return
    concerns = _standing(run, findings)
    begun = [_begin(run, finding) for finding in findings if finding.key not in concerns]
    bulk_create_with_history(begun, Concern)
    concerns |= {concern.key: concern for concern in begun}
    for finding in findings:
        finding.concern = concerns[finding.key]
    _say_again(run, findings)
    _unsay(run, findings)
    _withdraw_unsaid(run)


def _tie_as_it_stood(run: ScreenRun, findings: list[Finding]) -> None:
    concerns = {concern.key: concern for concern in Concern.objects.said_on(run.as_of)}
    for finding in findings:
        finding.concern = concerns.get(finding.key)


def _standing(run: ScreenRun, findings: list[Finding]) -> Standing:
    """The concerns that go on: the open ones, and those settled after a replaced run of this day.

    An open one of a unit that stands in another fleet's truck now is withdrawn on the way.
    """
    owners = {finding.key: finding.customer_id for finding in findings}
    settled = Concern.objects.settled().filter(last_said_on=run.as_of)
    standing = {concern.key: concern for concern in settled}
    for concern in Concern.objects.open():
        if owners.get(concern.key, concern.customer_id) == concern.customer_id:
            standing[concern.key] = concern
        else:
            moved = _("The unit stands in another fleet's truck now.")
            concern.withdraw(moved, run.as_of, at=run.finished_at)
    return standing


def _begin(run: ScreenRun, finding: Finding) -> Concern:
    return Concern(
        unit_id=finding.unit_id,
        customer_id=finding.customer_id,
        gauge=finding.gauge,
        cause=finding.cause,
        first_said_on=run.as_of,
        last_said_on=run.as_of,
        since=finding.since,
    )


def _say_again(run: ScreenRun, findings: list[Finding]) -> None:
    said = [finding for finding in findings if finding.concern.is_open]
    for finding in said:
        finding.concern.last_said_on, finding.concern.since = run.as_of, finding.since
    Concern.objects.bulk_update([one.concern for one in said], ["last_said_on", "since"])


def _unsay(run: ScreenRun, findings: list[Finding]) -> None:
    """Take back what only a replaced run of this day had said."""
    said = [finding.concern.pk for finding in findings]
    for concern in Concern.objects.open().filter(last_said_on=run.as_of).exclude(pk__in=said):
        said_on = concern.findings.aggregate(day=Max("run__as_of"))["day"]
        if said_on is None and concern.last_step is None:
            concern.delete()
        else:
            concern.last_said_on = said_on or concern.first_said_on
            concern.save(update_fields=["last_said_on"])


def _withdraw_unsaid(run: ScreenRun) -> None:
    before = ScreenRun.objects.filter(as_of__lt=run.as_of).first()
    if before is None:
        return
    words = _("Two screenings in a row, of %(before)s and %(day)s, do not say it any more.") % {
        "before": before.as_of,
        "day": run.as_of,
    }
    for concern in Concern.objects.unsaid_since(before.as_of):
        concern.withdraw(words, run.as_of, at=run.finished_at)
