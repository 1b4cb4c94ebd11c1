"""The people who sign in, what each is there for, and how each likes to read quantities."""

from django.contrib.auth.models import AbstractUser
from django.db import models
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy


class Role(models.TextChoices):
    OFFICE = "office", _("Office staff")
    TECHNICIAN = "technician", _("Technician")
    FLEET_MANAGER = "fleet_manager", _("Fleet manager")
    WARRANTY_CLERK = "warranty_clerk", _("Warranty clerk")
    OWNER = "owner", _("Shop owner")


SHOP_ROLES = (Role.OFFICE, Role.TECHNICIAN, Role.WARRANTY_CLERK, Role.OWNER)
ANYONE = tuple(Role)


class UnitSystem(models.TextChoices):
    US = "us", _("psi, °F, oz")
    SI = "si", _("kPa, °C, g")


class Person(AbstractUser):
    """Someone who signs in. A fleet manager is tied to customers from the customers' side."""

    role = models.CharField(_("role"), max_length=20, choices=Role, default=Role.FLEET_MANAGER)
    unit_system = models.CharField(
        pgettext_lazy("of measure", "units"),
        max_length=2,
        choices=UnitSystem,
        default=UnitSystem.US,
    )

    class Meta:
        verbose_name = _("person")
        verbose_name_plural = _("people")
        constraints = [
            models.CheckConstraint(condition=models.Q(role__in=Role.values), name="person_role"),
            models.CheckConstraint(
                condition=models.Q(unit_system__in=UnitSystem.values), name="person_unit_system"
            ),
        ]

    @property
    def sees_all(self) -> bool:
        """The shop's own people see every customer; a fleet manager only their own."""
        return self.role in SHOP_ROLES
