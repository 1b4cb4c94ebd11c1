"""The air conditioners: what a model's nameplate says, and each unit by its serial number."""

from django.db import models
from django.db.models.functions import Upper
from django.urls import reverse
from django.utils.translation import gettext_lazy as _
from simple_history.models import HistoricalRecords

from installs.engineering.saturation import is_flammable
from installs.models.customers import Yard
from installs.models.tractors import SystemVolts
from installs.querysets import OpenQuerySet, UnitQuerySet


class Expansion(models.TextChoices):
    ORIFICE = "orifice", _("fixed orifice")
    VALVE = "valve", _("expansion valve")


class UnitModel(models.Model):
    """A model of unit, by its nameplate."""

    name = models.CharField(_("model"), max_length=60)
    refrigerant = models.CharField(
        _("refrigerant"), max_length=20, help_text=_("ASHRAE 34 designation, such as R-134a.")
    )
    charge_g = models.FloatField(_("nameplate charge, g"))
    system_v = models.PositiveSmallIntegerField(_("system voltage"), choices=SystemVolts)
    draw_low_a = models.FloatField(_("rated draw at low output, A"), null=True, blank=True)
    draw_mid_a = models.FloatField(_("rated draw at mid output, A"), null=True, blank=True)
    draw_high_a = models.FloatField(_("rated draw at high output, A"), null=True, blank=True)
    cutoff_v = models.FloatField(_("cutoff voltage, V"), null=True, blank=True)
    expansion = models.CharField(
        _("expansion device"), max_length=10, choices=Expansion, blank=True
    )

    objects = OpenQuerySet.as_manager()
    history = HistoricalRecords()

    class Meta:
        verbose_name = _("unit model")
        verbose_name_plural = _("unit models")
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(
                Upper("name"),
                name="unit_model_once",
                violation_error_message=_("There is a unit model of this name already."),
            ),
            models.CheckConstraint(
                condition=models.Q(charge_g__gt=0, charge_g__lte=20_000),
                name="unit_model_charge",
                violation_error_message=_("A charge is above 0 g and at most 20 kg."),
            ),
            models.CheckConstraint(
                condition=models.Q(system_v__in=SystemVolts.values), name="unit_model_system_v"
            ),
            models.CheckConstraint(
                condition=models.Q(expansion__in=["", *Expansion.values]),
                name="unit_model_expansion",
            ),
            *(
                models.CheckConstraint(
                    condition=models.Q(**{f"draw_{level}_a__gt": 0}),
                    name=f"unit_model_draw_{level}",
                    violation_error_message=_("A rated draw is above 0 A."),
                )
                for level in ("low", "mid", "high")
            ),
            models.CheckConstraint(
                condition=models.Q(cutoff_v__gt=0, cutoff_v__lte=60),
                name="unit_model_cutoff",
                violation_error_message=_("A cutoff is above 0 V and at most 60 V."),
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def is_flammable(self) -> bool:
        return is_flammable(self.refrigerant)


class SheetPart(models.TextChoices):
    PART = "part", _("part")
    HOLE = "hole", _("hole")
    TORQUE = "torque", _("torque")
    SETTING = "setting", _("setting")


class SheetLine(models.Model):
    """A line of a model's own installing sheet, as the shop copied it: `M8 bolt`, `22 N·m`."""

    model = models.ForeignKey(
        UnitModel, models.CASCADE, verbose_name=_("unit model"), related_name="sheet_lines"
    )
    part = models.CharField(_("kind"), max_length=7, choices=SheetPart)
    what = models.CharField(_("what"), max_length=100)
    value = models.CharField(_("size, torque or number"), max_length=60)
    position = models.PositiveSmallIntegerField(_("place in the list"), default=0)

    objects = OpenQuerySet.as_manager()

    class Meta:
        verbose_name = _("line of the installing sheet")
        verbose_name_plural = _("lines of the installing sheet")
        ordering = ["model", "position", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(part__in=SheetPart.values), name="sheet_line_part"
            )
        ]

    def __str__(self) -> str:
        return f"{self.what}: {self.value}"


class LeftStock(models.TextChoices):
    RETURNED = "returned", _("returned to the maker")
    SCRAPPED = "scrapped", _("scrapped")


class Unit(models.Model):
    """One air conditioner, known by its serial number; it may move from truck to truck."""

    serial = models.CharField(_("serial"), max_length=60)
    model = models.ForeignKey(
        UnitModel, models.PROTECT, verbose_name=_("model"), related_name="units"
    )
    lot = models.CharField(_("lot"), max_length=40, blank=True)
    made_on = models.DateField(_("made on"), null=True, blank=True)
    yard = models.ForeignKey(
        Yard,
        models.SET_NULL,
        verbose_name=_("in stock at"),
        null=True,
        blank=True,
        help_text=_("Where it is kept while it is in no truck."),
    )

    left_stock = models.CharField(_("left the stock"), max_length=8, choices=LeftStock, blank=True)

    objects = UnitQuerySet.as_manager()
    history = HistoricalRecords()

    class Meta:
        verbose_name = _("unit")
        verbose_name_plural = _("units")
        ordering = ["serial"]
        constraints = [
            models.UniqueConstraint(
                Upper("serial"),
                name="unit_serial_once",
                violation_error_message=_("There is a unit with this serial already."),
            ),
            models.CheckConstraint(
                condition=models.Q(left_stock__in=["", *LeftStock.values]), name="unit_left_stock"
            ),
        ]

    def __str__(self) -> str:
        return self.serial

    def get_absolute_url(self) -> str:
        return reverse("unit", args=[self.serial])
