"""How to read the fleet workbook: one subject and its words a row."""

from django.utils.translation import gettext_lazy as _

__all__ = ["NOTES"]

NOTES = (
    (
        _("Safety first"),
        _(
            "Refrigerant is under pressure and can freeze skin; some of it burns. A battery bank "
            "can weld a spanner and burst. Work on either belongs to people who are trained and, "
            "for refrigerant, certified for it; local codes and the makers' instructions come "
            "before anything written here. This workbook records and computes. It certifies no "
            "one and proves no repair."
        ),
    ),
    (
        _("What this is"),
        _(
            "The records and the findings of the units in your trucks, as of the last screening. "
            "You get the same rows as on the pages: a fleet sees its own trucks, and of a unit "
            "that moved, its own time with it."
        ),
    ),
    (
        _("This week"),
        _(
            "Which trucks to bring in, worst first: the soonest forecast stands on top, then the "
            "surest finding. One row is one cause in one unit. A row with a gauge instead of a "
            "truck says that the gauge itself is in doubt, and names the units that it was used "
            "on: read those again before you act on them."
        ),
    ),
    (
        _("To measure"),
        _(
            "Units that the screening cannot judge yet, and the measurement that would tell most of "
            "each: what, by when, and how. It is no fault that is found; the likeliest cause is "
            "only that. Where there are too few readings, none is named."
        ),
    ),
    (
        _("Probability"),
        _(
            "How sure the screening is of this cause, from what the unit's own readings did "
            "against its own start and against units of the same model. It is not the chance that "
            "the truck fails this week."
        ),
    ),
    (
        _("Expected false findings"),
        _(
            "A fleet is many tests at once, and some sound units look bad by chance. The screening "
            "holds that share down over the whole fleet and says how many of its findings it "
            "expects to be false. Each row on its own still has to be confirmed at the truck."
        ),
    ),
    (
        _("Forecast, earliest and latest day"),
        _(
            "If the drift goes on as it has: the day when the charge is below 80 % of the "
            "nameplate, or when the bank no longer carries 8 hours at low output. The true day "
            "lies between the earliest and the latest in 9 cases of 10. Empty where the readings "
            "do not carry a forecast."
        ),
    ),
    (
        _("Condensing lift"),
        _(
            "How much hotter the refrigerant condenses than the air outside: the saturation "
            "temperature at the discharge pressure, less the ambient temperature. A leak lowers "
            "it; a condenser short of air raises it. A raw pressure mostly follows the sun; the "
            "lift does not."
        ),
    ),
    (
        _("Evaporating depression"),
        _(
            "How much colder the refrigerant boils than the air that comes back from the cab: the "
            "return air temperature, less the saturation temperature at the suction pressure. A "
            "leak or a restriction raises it; an overcharge lowers it."
        ),
    ),
    (
        _("Standing pressure is not charge"),
        _(
            "With the unit off, the pressure shows the temperature of the air around it for as "
            "long as any liquid is left. It says nothing of how much. Such readings have an empty "
            "output; they are kept, and never used to judge the charge. Only a recovered and "
            "weighed charge tells what was inside."
        ),
    ),
    (
        _("Trucks"),
        _(
            "Every truck with its battery bank: how many batteries, the capacity of one at the "
            "20-hour rate, when they were put in and last renewed. The last visit is the last "
            "time that someone took readings or worked at the truck."
        ),
    ),
    (
        _("Units"),
        _(
            "Every unit by its serial, with its nameplate and the truck that it is in now. Added "
            "in service is what was topped up over its time with you, without weighed charges: "
            "a sealed circuit uses none up, so what was added has leaked."
        ),
    ),
    (
        _("Visits"),
        _(
            "Every set of readings that a technician took, newest first; what a logger sent is "
            "not here. Pressures are gauge pressures, against the air of the yard. An empty cell "
            "was not taken; it is not a zero."
        ),
    ),
    (
        _("Refrigerant"),
        _(
            "Every movement, newest first. Charged by weight is a whole charge after an "
            "evacuation; added is a top-up of what was there; recovered is what came out. The "
            "published leak-rate limits are set for far larger charges than these; what applies "
            "to you is for your local code and your certified technician to say."
        ),
    ),
    (
        _("Units and dates"),
        _(
            "Each header names its unit; which units you get is set beside your name on the pages. "
            "Lift and depression are differences of temperature, not temperatures. Dates and times "
            "are those of the shop's own clock."
        ),
    ),
)
