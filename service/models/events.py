"""What every event in a unit's life has in common."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from installs.models import Customer, Tractor, Unit


class Event(models.Model):
    """Something that happened to a unit: in which truck, and whose truck it was then.

    `tractor` and `customer` are kept as they were at the time, so that a truck that is sold shows
    each fleet its own time only. They are empty for a unit that stood in no truck.
    """

    unit = models.ForeignKey(Unit, models.PROTECT, verbose_name=_("unit"))
    tractor = models.ForeignKey(
        Tractor, models.PROTECT, verbose_name=_("tractor"), null=True, blank=True
    )
    customer = models.ForeignKey(
        Customer, models.PROTECT, verbose_name=_("customer"), null=True, blank=True
    )
    entered_at = models.DateTimeField(_("written down at"))

    time_field: str

    class Meta:
        abstract = True

    @property
    def happened_at(self):
        return getattr(self, self.time_field)
