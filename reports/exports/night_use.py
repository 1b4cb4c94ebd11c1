"""How a driver brings the unit and its bank through a night, in a few lines."""

from django.utils.translation import gettext as _

from fleetcool.wording import amount
from installs.engineering.battery import SURVIVAL_FLOOR_V

__all__ = ["night_use"]


def night_use(says: dict[str, object], system: str) -> list[str]:
    """Return the lines for a driver, with the numbers that a certificate says, in a person's units."""
    words = {
        "set_point": amount(says["set_point_c"], "temperature", system),
        "cutoff": amount(says["cutoff_v"], "volts", system),
    }
    return [
        _("Charge first: begin the night with a full bank, from the road or from a charger."),
        _("Cool the cab while the engine runs. Begin the night at %(set_point)s or warmer.")
        % words,
        _("At night use low or mid output. High output is for a running engine."),
        _(
            "The unit stops by itself when the bank falls to %(cutoff)s. That leaves some charge "
            "for the engine; it is no fault of the unit."
        )
        % words,
        _(
            "The cutoff is a voltage under load, not of a resting battery. After a stop the "
            "voltage climbs again by itself: that is no new charge. Do not start it again and again."
        ),
        _leave_the_cutoff(says, system),
        _("Keep the drain, the air intake and the condenser free of dirt, bedding and snow."),
        _(
            "Call the shop if it stops early two nights in a row, if the air is not cold, if water "
            "drips in the cab, or if its fuse blows. Do not put in a larger fuse."
        ),
    ]


def _leave_the_cutoff(says: dict[str, object], system: str) -> str:
    bank = says["bank"]
    if bank is None:
        return _("Leave the cutoff as it is set: a lower one ruins batteries.")
    floor_v = SURVIVAL_FLOOR_V[bank["battery_type"]] * says["nameplate"]["system_v"] / 12
    return _(
        "Leave the cutoff as it is set. Under %(floor)s these batteries are ruined; set higher it "
        "costs hours of cooling."
    ) % {"floor": amount(floor_v, "volts", system)}
