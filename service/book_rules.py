"""What the book of refrigerant refuses, in words that say what to look at."""

from dataclasses import dataclass
from datetime import date, datetime
from math import isfinite

from django.core.exceptions import ValidationError
from django.utils import timezone
from django.utils.translation import gettext as _

from fleetcool.models import Person, UnitSystem
from fleetcool.wording import amount
from installs.models import Technician, Unit
from service.engineering.balance import peak_from
from service.lines import Line
from service.models import Cylinder, Holds, Movement, MovementKind
from service.models.cylinders import ROUNDING_G

__all__ = [
    "By",
    "check_goes_together",
    "check_in_book",
    "check_mass",
    "check_number",
    "check_room",
    "day_of",
    "overdrawn",
]

# More than twice its nameplate charge is a slip of the pen, not a charge.
MOST_OF_NAMEPLATE = 2
# 40 CFR 82.34: gas from a vehicle's air conditioner is recycled or reclaimed before it is used again
# (from memory).
INTO_A_UNIT = (MovementKind.CHARGED, MovementKind.ADDED)


@dataclass(frozen=True)
class By:
    """When something was done and by which technician; when it was written down and by whom."""

    at: datetime
    entered_at: datetime
    technician: Technician | None = None
    person: Person | None = None

    @property
    def day(self) -> date:
        return day_of(self.at)

    def mass(self, mass_g: float) -> str:
        """A mass in the units of the person who is to read it."""
        return amount(mass_g, "mass", self.person.unit_system if self.person else UnitSystem.SI)

    def check(self) -> None:
        if self.at > self.entered_at:
            raise ValidationError(_("This time is still to come; look at the date."))


def check_number(mass_g: float) -> None:
    """Refuse what is no number: a database takes it for nothing or for the greatest of all."""
    if not isfinite(mass_g):
        raise ValidationError(_("A mass is a number."))


def check_mass(unit: Unit, mass_g: float, by: By) -> None:
    check_number(mass_g)
    nameplate_g = unit.model.charge_g
    if mass_g > MOST_OF_NAMEPLATE * nameplate_g:
        raise ValidationError(
            _("%(mass)s cannot be: the nameplate charge of %(unit)s is %(charge)s.")
            % {"mass": by.mass(mass_g), "unit": unit, "charge": by.mass(nameplate_g)}
        )


def check_goes_together(movement: Movement, cylinder: Cylinder) -> None:
    needs = movement.unit.model.refrigerant
    words = {"cylinder": cylinder.code, "holds": cylinder.refrigerant, "needs": needs}
    if cylinder.refrigerant.casefold() != needs.casefold():
        raise ValidationError(
            _("%(cylinder)s is for %(holds)s and this unit takes %(needs)s; never mix them.")
            % words
        )
    _check_not_retired(cylinder)
    if movement.movement == MovementKind.RECOVERED and cylinder.holds == Holds.NEW:
        raise ValidationError(
            _("%(cylinder)s is for new gas; recovered gas goes into a recovery cylinder.") % words
        )
    if movement.movement in INTO_A_UNIT and cylinder.holds == Holds.RECOVERED:
        raise ValidationError(
            _(
                "%(cylinder)s holds recovered gas: recycle it with equipment approved for it into a "
                "cylinder of recycled gas before it goes into a unit."
            )
            % words
        )


def check_in_book(cylinder: Cylinder, at: datetime) -> None:
    _check_not_retired(cylinder)
    words = {"cylinder": cylinder.code}
    if not cylinder.is_in_book:
        raise ValidationError(
            _("%(cylinder)s is not in the book yet: open it with what it holds first.") % words
        )
    if at < cylinder.booked_from:
        raise ValidationError(
            _("The book of %(cylinder)s begins on %(day)s; this lies before it.")
            % (words | {"day": day_of(cylinder.booked_from)})
        )


def _check_not_retired(cylinder: Cylinder) -> None:
    if cylinder.retired_at is not None:
        raise ValidationError(_("%s is retired; take another cylinder.") % cylinder.code)


def check_room(cylinder: Cylinder, ledgers: dict[int, list[Line]], since: datetime, by: By) -> None:
    """Refuse what would fill a cylinder too far: liquid that warms must have room."""
    limit_g = cylinder.fill_limit_g
    if limit_g is None or cylinder.pk not in ledgers:
        return
    lines = ledgers[cylinder.pk]
    most_g = peak_from(
        [line.mass_g for line in lines], [line.t for line in lines], since.timestamp()
    )
    if most_g > limit_g + ROUNDING_G:
        raise ValidationError(
            _(
                "%(cylinder)s would hold %(mass)s; at most %(limit)s may go in (80 percent of its "
                "volume). An overfilled cylinder can burst when it warms."
            )
            % {"cylinder": cylinder.code, "mass": by.mass(most_g), "limit": by.mass(limit_g)}
        )


def overdrawn(cylinder: Cylinder, at: datetime, least_g: float, by: By | None = None) -> str:
    """Say that a cylinder would have given more than it held."""
    mass = by.mass(-least_g) if by else amount(-least_g, "mass", UnitSystem.SI)
    return _(
        "%(cylinder)s cannot give what it does not hold: on %(day)s it would be %(mass)s short. "
        "Look at the mass and the time; if the cylinder holds more than the book says, weigh it in."
    ) % {"cylinder": cylinder.code, "day": day_of(at), "mass": mass}


def day_of(at: datetime) -> date:
    return timezone.localtime(at, timezone.get_default_timezone()).date()
