"""A fit check that was kept: what was asked of a truck's bank, and what came out."""

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.urls import reverse
from django.utils.translation import gettext_lazy as _

from installs.models.tractors import Tractor
from installs.models.units import UnitModel
from installs.querysets import ShopOnlyQuerySet

__all__ = ["FitCheck", "FitVerdict"]


class FitVerdict(models.TextChoices):
    CARRIES = "carries", _("carries")
    MARGINAL = "marginal", _("marginal")
    DOES_NOT_CARRY = "does_not_carry", _("does not carry")


class FitCheck(models.Model):
    """`asked` is the form's query string as it was, so that the page can be opened again."""

    tractor = models.ForeignKey(
        Tractor,
        models.CASCADE,
        verbose_name=_("tractor"),
        related_name="fit_checks",
        null=True,
        blank=True,
    )
    unit_model = models.ForeignKey(
        UnitModel, models.PROTECT, verbose_name=_("unit model"), null=True, blank=True
    )
    asked = models.TextField(_("what was asked"))
    verdict = models.CharField(_("verdict"), max_length=14, choices=FitVerdict)
    hours_low = models.FloatField(_("hours, low"))
    hours = models.FloatField(_("hours"))
    hours_high = models.FloatField(_("hours, high"))
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, verbose_name=_("made by"), null=True
    )
    made_at = models.DateTimeField(_("made at"))

    objects = ShopOnlyQuerySet.as_manager()

    class Meta:
        verbose_name = _("fit check")
        verbose_name_plural = _("fit checks")
        ordering = ["-made_at"]
        constraints = [
            models.CheckConstraint(
                condition=Q(verdict__in=FitVerdict.values), name="fit_check_verdict"
            )
        ]

    def __str__(self) -> str:
        return f"{self.get_verdict_display()} {self.made_at:%Y-%m-%d}"

    def get_absolute_url(self) -> str:
        return f"{reverse('fit_check')}?{self.asked}"
