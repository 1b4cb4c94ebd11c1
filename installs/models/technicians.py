"""The people who touch the units, and what they are certified to do."""

from datetime import date

from django.conf import settings
from django.db import models
from django.db.models.functions import Upper
from django.utils.translation import gettext_lazy as _
from simple_history.models import HistoricalRecords

from installs.querysets import ShopOnlyQuerySet


class Technician(models.Model):
    """A technician as named in the records; `person` is their sign-in, where they have one."""

    name = models.CharField(_("name"), max_length=100)
    person = models.OneToOneField(
        settings.AUTH_USER_MODEL,
        models.SET_NULL,
        verbose_name=_("sign-in"),
        null=True,
        blank=True,
        related_name="technician",
    )
    certification_scheme = models.CharField(
        _("refrigerant certification"),
        max_length=100,
        blank=True,
        help_text=_(
            "The rule it was earned under, such as US EPA section 609, or section 608 and its "
            "type, or what the local authority accepts."
        ),
    )
    certification_number = models.CharField(_("certificate number"), max_length=60, blank=True)
    certified_until = models.DateField(
        _("valid until"), null=True, blank=True, help_text=_("Empty where it does not expire.")
    )

    objects = ShopOnlyQuerySet.as_manager()
    history = HistoricalRecords()

    class Meta:
        verbose_name = _("technician")
        verbose_name_plural = _("technicians")
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(
                Upper("name"),
                name="technician_name_once",
                violation_error_message=_("There is a technician of this name already."),
            ),
            models.CheckConstraint(
                condition=models.Q(certification_number="") | ~models.Q(certification_scheme=""),
                name="technician_certificate_names_its_scheme",
                violation_error_message=_("Say which certification this number belongs to."),
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def is_certified(self, day: date) -> bool:
        """Whether a refrigerant certificate is on record that is valid on this day."""
        if not self.certification_number:
            return False
        return self.certified_until is None or day <= self.certified_until
