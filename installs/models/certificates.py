"""The certificate of an install: what was proved, fixed at the moment it was signed."""

from django.conf import settings
from django.db import models
from django.urls import reverse
from django.utils.crypto import get_random_string
from django.utils.translation import gettext_lazy as _

from installs.models.commissioning import Commissioning
from installs.models.technicians import Technician
from installs.querysets import OfCommissioningQuerySet

__all__ = ["Certificate"]


def certificate_token() -> str:
    """What the printed code opens the public page with: not to be guessed."""
    return get_random_string(22)


class Certificate(models.Model):
    """Never changed but to be withdrawn; `says` is all that it prints, as it was that day.

    `signature` is what was drawn: lines of (x, y) in parts of the pad's width, or empty where the
    name was typed instead.
    """

    commissioning = models.OneToOneField(
        Commissioning,
        models.PROTECT,
        verbose_name=_("commissioning"),
        related_name="certificate",
    )
    token = models.CharField(max_length=22, unique=True, default=certificate_token, editable=False)
    issued_at = models.DateTimeField(_("issued at"))
    technician = models.ForeignKey(Technician, models.PROTECT, verbose_name=_("signed by"))
    says = models.JSONField(_("what it says"))
    received_by = models.CharField(_("handed to"), max_length=100)
    signature = models.JSONField(_("signature"), default=list, blank=True)
    withdrawn_at = models.DateTimeField(_("withdrawn at"), null=True, blank=True)
    withdrawn_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        models.PROTECT,
        verbose_name=_("withdrawn by"),
        null=True,
        blank=True,
    )
    withdrawn_why = models.CharField(_("why withdrawn"), max_length=300, blank=True)

    objects = OfCommissioningQuerySet.as_manager()

    class Meta:
        verbose_name = _("certificate")
        verbose_name_plural = _("certificates")
        ordering = ["-issued_at"]

    def __str__(self) -> str:
        return self.number

    def get_absolute_url(self) -> str:
        return reverse("certificate", args=[self.pk])

    def get_public_url(self) -> str:
        return reverse("certificate_public", args=[self.token])

    @property
    def number(self) -> str:
        return f"C-{self.pk:06d}"

    @property
    def is_valid(self) -> bool:
        """Whether it stands: not withdrawn, and the unit still in the truck it was proved in."""
        return self.withdrawn_at is None and self.commissioning.install.still_stands()
