"""Recurring care: what is done to a unit again and again, how often, and when it was done."""

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _
from simple_history.models import HistoricalRecords

from installs.models import UnitModel
from service.models.visits import Visit
from service.querysets import OfVisitQuerySet, OpenQuerySet


class CareTask(models.TextChoices):
    FILTER = "filter", _("filter")
    COILS = "coils", _("coils")
    FASTENERS = "fasteners", _("fasteners")
    HOSES = "hoses", _("hoses")
    DRAIN = "drain", _("drain")


class CareItem(models.Model):
    """How often a task is due: by months, by run hours, or by whichever comes first."""

    task = models.CharField(_("task"), max_length=9, choices=CareTask)
    unit_model = models.ForeignKey(
        UnitModel,
        models.PROTECT,
        verbose_name=_("unit model"),
        null=True,
        blank=True,
        help_text=_("Empty for every model; a row of the model's own comes before it."),
    )
    months = models.PositiveSmallIntegerField(_("months"), null=True, blank=True)
    run_hours = models.PositiveIntegerField(_("run hours"), null=True, blank=True)

    objects = OpenQuerySet.as_manager()
    history = HistoricalRecords()

    class Meta:
        verbose_name = _("recurring care")
        verbose_name_plural = _("recurring care")
        ordering = ["task", "unit_model"]
        constraints = [
            models.UniqueConstraint(
                "unit_model",
                "task",
                name="care_item_once",
                violation_error_message=_("There is a row of this task for this model already."),
            ),
            # A missing model is never equal to another: "every model" needs a rule of its own.
            models.UniqueConstraint(
                "task",
                condition=Q(unit_model=None),
                name="care_item_of_every_model_once",
                violation_error_message=_("There is a row of this task for every model already."),
            ),
            models.CheckConstraint(condition=Q(task__in=CareTask.values), name="care_item_task"),
            models.CheckConstraint(
                condition=Q(months__isnull=False) | Q(run_hours__isnull=False),
                name="care_item_is_dated",
                violation_error_message=_("Give months, run hours or both."),
            ),
            *(
                models.CheckConstraint(
                    condition=Q(**{name: None}) | Q(**{f"{name}__gt": 0}),
                    name=f"care_item_{name}_above_zero",
                    violation_error_message=_("This must be above zero."),
                )
                for name in ("months", "run_hours")
            ),
        ]

    def __str__(self) -> str:
        model = f" ({self.unit_model})" if self.unit_model_id else ""
        return f"{self.get_task_display()}{model}"


class CareDone(models.Model):
    """A task that was done at a visit; from then on it is counted anew."""

    visit = models.ForeignKey(Visit, models.PROTECT, verbose_name=_("visit"), related_name="care")
    task = models.CharField(_("task"), max_length=9, choices=CareTask)

    objects = OfVisitQuerySet.as_manager()

    class Meta:
        verbose_name = _("care done")
        verbose_name_plural = _("care done")
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint("visit", "task", name="care_done_once"),
            models.CheckConstraint(condition=Q(task__in=CareTask.values), name="care_done_task"),
        ]

    def __str__(self) -> str:
        return self.get_task_display()
