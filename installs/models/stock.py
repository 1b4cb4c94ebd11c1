"""What comes into the shop's stock and goes out of it, one row a move, none ever changed."""

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from installs.models.customers import Yard
from installs.models.tractors import Tractor
from installs.models.units import Unit
from installs.querysets import ShopOnlyQuerySet

__all__ = ["StockMove", "StockMoveKind"]


class StockMoveKind(models.TextChoices):
    RECEIVED = "received", _("received")
    MOVED = "moved", _("moved to another yard")
    INSTALLED = "installed", _("installed")
    REMOVED = "removed", _("removed from a truck")
    RETURNED = "returned", _("returned to the maker")
    SCRAPPED = "scrapped", _("scrapped")


class StockMove(models.Model):
    unit = models.ForeignKey(
        Unit, models.PROTECT, verbose_name=_("unit"), related_name="stock_moves"
    )
    kind = models.CharField(_("move"), max_length=9, choices=StockMoveKind)
    at = models.DateTimeField(_("at"))
    yard = models.ForeignKey(Yard, models.PROTECT, verbose_name=_("yard"), null=True, blank=True)
    tractor = models.ForeignKey(
        Tractor, models.PROTECT, verbose_name=_("tractor"), null=True, blank=True
    )
    why = models.CharField(_("why"), max_length=200, blank=True)
    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, verbose_name=_("by"), null=True, blank=True
    )

    objects = ShopOnlyQuerySet.as_manager()

    class Meta:
        verbose_name = _("stock move")
        verbose_name_plural = _("stock moves")
        ordering = ["at", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(kind__in=StockMoveKind.values), name="stock_move_kind"
            )
        ]

    def __str__(self) -> str:
        return f"{self.unit} {self.get_kind_display()} {self.at:%Y-%m-%d}"
