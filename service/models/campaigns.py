"""A campaign: a bulletin over a range of units, who it is for, and how far each of them is."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Upper
from django.urls import reverse
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy
from simple_history.models import HistoricalRecords

from installs.models import Booking, BookingState, Unit, UnitModel
from service.campaign_querysets import CampaignQuerySet, CampaignUnitQuerySet
from service.models.visits import Visit

__all__ = ["Campaign", "CampaignState", "CampaignUnit"]


class CampaignState(models.TextChoices):
    """How far one unit of a campaign is."""

    TO_TELL = "to_tell", _("to be told")
    TOLD = "told", pgettext_lazy("units", "told")
    BOOKED = "booked", _("booked")
    DONE = "done", pgettext_lazy("units", "done")


class Campaign(models.Model):
    """A bulletin and its range, as it was when the campaign was opened: it is not changed after.

    The range: units of these models (any if none), lots (any if none) and made-on days, and
    besides these the serials named. Lots and serials are lists of text. `until_done` says what
    whoever has such a unit does, or leaves, until the work is done.
    """

    number = models.CharField(_("bulletin number"), max_length=40)
    title = models.CharField(_("title"), max_length=120)
    words = models.TextField(_("what it is about, and what is done"))
    until_done = models.TextField(_("caution: what to do until it is done"))
    unit_models = models.ManyToManyField(UnitModel, verbose_name=_("unit models"), blank=True)
    lots = models.JSONField(_("lots"), default=list, blank=True)
    serials = models.JSONField(_("serials"), default=list, blank=True)
    made_from = models.DateField(_("made from"), null=True, blank=True)
    made_to = models.DateField(_("made to"), null=True, blank=True)
    opened_at = models.DateTimeField(_("opened at"))
    opened_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, verbose_name=_("opened by"), related_name="+"
    )

    objects = CampaignQuerySet.as_manager()
    history = HistoricalRecords()

    class Meta:
        verbose_name = _("campaign")
        verbose_name_plural = _("campaigns")
        ordering = ["-opened_at"]
        constraints = [
            models.UniqueConstraint(
                Upper("number"),
                name="campaign_number_once",
                violation_error_message=_("There is a campaign of this bulletin already."),
            ),
            models.CheckConstraint(
                condition=Q(made_from=None) | Q(made_to=None) | Q(made_to__gte=F("made_from")),
                name="campaign_made_in_order",
                violation_error_message=_("The last made-on day comes before the first."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.number}: {self.title}"

    def get_absolute_url(self) -> str:
        return reverse("campaign", args=[self.pk])


class CampaignUnit(models.Model):
    """One unit of a campaign, from the day it was opened: told, booked, done."""

    campaign = models.ForeignKey(
        Campaign, models.PROTECT, verbose_name=_("campaign"), related_name="units"
    )
    unit = models.ForeignKey(Unit, models.PROTECT, verbose_name=_("unit"), related_name="campaigns")
    told_at = models.DateTimeField(_("told at"), null=True, blank=True)
    booking = models.ForeignKey(
        Booking, models.PROTECT, verbose_name=_("booking"), null=True, blank=True, related_name="+"
    )
    done_on = models.DateField(_("done on"), null=True, blank=True)
    visit = models.ForeignKey(
        Visit, models.PROTECT, verbose_name=_("visit"), null=True, blank=True, related_name="+"
    )

    objects = CampaignUnitQuerySet.as_manager()
    history = HistoricalRecords()

    class Meta:
        verbose_name = _("unit of a campaign")
        verbose_name_plural = _("units of campaigns")
        ordering = ["unit__serial"]
        constraints = [
            models.UniqueConstraint("campaign", "unit", name="campaign_unit_once"),
            models.CheckConstraint(
                condition=Q(visit=None) | Q(done_on__isnull=False),
                name="campaign_visit_is_done",
                violation_error_message=_("Say on which day the work was done."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.campaign.number} {self.unit}"

    def get_absolute_url(self) -> str:
        return reverse("campaign_unit", args=[self.campaign_id, self.unit.serial])

    @property
    def state(self) -> CampaignState:
        """The furthest it is; a booking that was called off leaves it told."""
        if self.done_on:
            return CampaignState.DONE
        if self.booking and self.booking.state == BookingState.BOOKED:
            return CampaignState.BOOKED
        return CampaignState.TOLD if self.told_at else CampaignState.TO_TELL
