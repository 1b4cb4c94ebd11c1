"""What the shop's suppliers owe back on claims that it has settled."""

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from service.claim_querysets import RecoveryQuerySet, ShopOnlyQuerySet
from service.models.claims import Claim

__all__ = ["Recovery", "Supplier"]


class Supplier(models.Model):
    """Whoever a part came from; `days_to_pay` is how long it has before a credit is overdue."""

    name = models.CharField(_("supplier"), max_length=120, unique=True)
    contact_email = models.EmailField(_("contact e-mail"), blank=True)
    days_to_pay = models.PositiveSmallIntegerField(_("days to pay in"), default=30)

    objects = ShopOnlyQuerySet.as_manager()

    class Meta:
        verbose_name = _("supplier")
        verbose_name_plural = _("suppliers")
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class Recovery(models.Model):
    """What is asked back of one supplier on one claim; never changed.

    What it has credited is the sum of the claim's steps that name it: `credited` and `owed` come
    with `Recovery.objects.aged(today)`.
    """

    claim = models.ForeignKey(
        Claim, models.PROTECT, verbose_name=_("claim"), related_name="recoveries"
    )
    supplier = models.ForeignKey(
        Supplier, models.PROTECT, verbose_name=_("supplier"), related_name="recoveries"
    )
    reference = models.CharField(_("their reference"), max_length=60, blank=True)
    asked = models.DecimalField(_("asked"), max_digits=12, decimal_places=2)
    currency = models.CharField(_("currency"), max_length=3)
    sent_on = models.DateField(_("sent on"))
    due_on = models.DateField(_("due on"))

    objects = RecoveryQuerySet.as_manager()

    class Meta:
        verbose_name = _("recovery")
        verbose_name_plural = _("recoveries")
        ordering = ["due_on", "pk"]
        constraints = [
            models.CheckConstraint(condition=Q(asked__gt=0), name="recovery_asked"),
            models.CheckConstraint(condition=Q(due_on__gte=F("sent_on")), name="recovery_due_on"),
            models.CheckConstraint(
                condition=Q(currency__regex=r"^[A-Z]{3}$"), name="recovery_currency"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.claim}: {self.supplier}"
