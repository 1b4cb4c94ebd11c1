"""How each step of an install is done, and what can hurt someone while doing it.

Cautions come before the instructions. They warn; who may do the work, and how, is for local codes,
the makers' sheets and the training of whoever does it.
"""

from django.utils.translation import gettext_lazy

from installs.engineering import acceptance, vacuum
from installs.engineering.saturation import is_flammable

__all__ = ["step_cautions", "step_how"]


def step_cautions(step: str, refrigerant: str) -> list[str]:
    """Return what can hurt someone at a step, the worst first, and who may do it."""
    cautions = list(CAUTIONS[step])
    if step in acceptance.REFRIGERANT_STEPS:
        cautions = [PRESSURE, *cautions, CREDENTIAL]
    if is_flammable(refrigerant) and step in acceptance.REFRIGERANT_STEPS | {"supply"}:
        cautions.insert(0, FLAMMABLE)
    return [str(caution) for caution in [*cautions, LOCAL_CODES]]


def step_how(step: str) -> list[str]:
    """Return the instructions of a step, in the order that keeps people and machines safe."""
    return [str(instruction) % NUMBERS for instruction in HOW[step]]


LOCAL_CODES = gettext_lazy(
    "Local codes and the sheets of the truck's and the unit's makers go before this page. If you "
    "are not trained or licensed for this step, leave it to someone who is."
)
CREDENTIAL = gettext_lazy(
    "Only a person with the refrigerant certificate that the law of this place asks for may do "
    "this step."
)
PRESSURE = gettext_lazy(
    "Refrigerant and test gas are under pressure: wear goggles and gloves, and keep your face away "
    "from joints. Escaping liquid freezes skin and eyes."
)
FLAMMABLE = gettext_lazy(
    "This refrigerant burns: no flame, no spark, no smoking, open air, a gas detector and tools "
    "made for it. Ask the authority whether it may be used in a vehicle."
)
DRILLING = gettext_lazy(
    "Before drilling, look at both sides: airbags and their wiring, other wiring, fuel, brake and "
    "air lines. Have the airbag system made safe as the truck's maker says. Wear goggles."
)
HEIGHT = gettext_lazy(
    "Work at height: stand on a platform or a ladder that is held, never on the hood or a tank. "
    "Lift the unit with two people or a hoist."
)

CAUTIONS = {
    "mounting": [
        HEIGHT,
        DRILLING,
        gettext_lazy("Chock the wheels and take the key out before you climb."),
    ],
    "hoses": [
        DRILLING,
        gettext_lazy("Keep hoses off exhaust, belts and sharp edges: a hose that chafes bursts."),
    ],
    "pressure_test": [
        gettext_lazy(
            "Use dry nitrogen through a regulator. Never oxygen and never compressed air: with oil "
            "they explode."
        ),
        gettext_lazy(
            "Never go above the pressure on the unit's plate. Chain the cylinder upright, and let "
            "the pressure down slowly."
        ),
    ],
    "evacuation": [
        gettext_lazy("Let all nitrogen out before the pump is connected."),
        gettext_lazy("Never run the compressor under vacuum: it burns inside."),
    ],
    "charge": [
        gettext_lazy(
            "Never heat a cylinder with a flame, and never let refrigerant out on purpose."
        ),
        gettext_lazy(
            "Keep the cab and the bay open to fresh air: refrigerant displaces air, low down first."
        ),
    ],
    "supply": [
        gettext_lazy(
            "Disconnect the negative of the battery first and connect it last. Take off rings and "
            "watch; a spanner across the posts welds fast."
        ),
        gettext_lazy("Batteries give off gas that explodes: no spark, no flame, wear goggles."),
        gettext_lazy("Leave the fuse out until every cable is fixed and checked."),
    ],
    "drain": [
        gettext_lazy("Switch the unit off and keep water away from plugs, fuse and battery."),
    ],
    "sealing": [
        HEIGHT,
        gettext_lazy(
            "Open the doors: sealant gives off fumes. Wear the gloves its sheet asks for."
        ),
    ],
    "first_run": [
        gettext_lazy("Fans start by themselves and the discharge line is hot: keep hands away."),
        gettext_lazy(
            "If the engine runs, lead the exhaust outside, set the brake and chock the wheels."
        ),
        gettext_lazy("The bank can give hundreds of amperes: only insulated probes on its posts."),
    ],
    "settings": [
        gettext_lazy(
            "A cutoff under load is not a voltage at rest. Never set it below what the battery's "
            "maker allows."
        ),
    ],
}

NUMBERS = {
    "test_min": acceptance.TEST_MIN,
    "pump_min": acceptance.PUMP_MIN,
    "target_micron": vacuum.TARGET_MICRON,
    "decay_min": vacuum.DECAY_MIN,
    "decay_micron": vacuum.DECAY_MICRON,
    "fuse_cm": acceptance.FUSE_CM.high,
    "water_ml": acceptance.WATER_ML,
}

HOW = {
    "mounting": [
        gettext_lazy("Mark the holes and check both sides before drilling."),
        gettext_lazy("Put a vibration pad under every mounting point."),
        gettext_lazy("Tighten the bolts to the torque on the unit's sheet, crosswise."),
        gettext_lazy("Push and pull the unit: nothing may move."),
    ],
    "hoses": [
        gettext_lazy("Put a grommet or a sleeve in every hole before a hose goes through."),
        gettext_lazy(
            "Lead the hoses clear of heat, belts and edges, with room for the cab to tilt."
        ),
        gettext_lazy("Clamp them so that they cannot chafe, and keep them capped until joined."),
        gettext_lazy("Oil the seals and tighten the joints with two spanners."),
    ],
    "pressure_test": [
        gettext_lazy("Join the gauges and the nitrogen regulator, with the regulator shut."),
        gettext_lazy("Raise the pressure in steps, and listen and look at each step."),
        gettext_lazy("Shut the valve, wait until it settles, and note pressure and temperature."),
        gettext_lazy("Test every joint with bubbles or a detector made for the gas."),
        gettext_lazy("After %(test_min)d min or more note pressure and temperature again."),
        gettext_lazy("Let the nitrogen out slowly, away from people."),
    ],
    "evacuation": [
        gettext_lazy("Join pump and micron gauge, the gauge as far from the pump as it will go."),
        gettext_lazy(
            "Pump for %(pump_min)d min or more (common practice), to %(target_micron)d micron or "
            "less. A needle gauge cannot show this."
        ),
        gettext_lazy("Note the lowest reading, then isolate the pump before you stop it."),
        gettext_lazy(
            "Watch for %(decay_min)d min: it must stay under %(decay_micron)d micron. Note the "
            "reading half way and at the end."
        ),
    ],
    "charge": [
        gettext_lazy("Read the refrigerant and the charge on the unit's plate."),
        gettext_lazy("Put the named cylinder on the scale and set the scale to zero."),
        gettext_lazy("Charge by weight, not by pressure, the way the maker says."),
        gettext_lazy("Note what the scale says once the hose is shut, with the hose allowed for."),
    ],
    "supply": [
        gettext_lazy("Disconnect the negative of the bank."),
        gettext_lazy("Lead the cables with the fuse out, sheathed and clamped."),
        gettext_lazy(
            "Put the fuse holder within %(fuse_cm)d cm of the battery, measured along the cable."
        ),
        gettext_lazy(
            "Take the positive from the first battery of a parallel bank and the negative from the "
            "last, so that all share the load."
        ),
        gettext_lazy("Tighten the posts, put in the fuse, connect the negative last."),
    ],
    "drain": [
        gettext_lazy("Pour %(water_ml)d ml of water or more into the drain pan, slowly."),
        gettext_lazy("See that all of it runs out outside, clear of battery and wiring."),
        gettext_lazy("Feel inside the cab under the unit: it must be dry."),
    ],
    "sealing": [
        gettext_lazy("Clean the edges and paint bare metal."),
        gettext_lazy("Seal every hole from inside, then from outside."),
        gettext_lazy("Look for light through the seal from the other side."),
    ],
    "first_run": [
        gettext_lazy("With the unit off, note the voltage of the bank."),
        gettext_lazy("With the unit still off, join each gauge hose to its own side."),
        gettext_lazy("Close the cab and run the unit for ten minutes or more (common practice)."),
        gettext_lazy("Note the draw at each output level that the bank may carry."),
        gettext_lazy(
            "At mid or high output, within a few minutes, note both pressures, outside air, return "
            "air and supply air, and the voltage at the bank and at the unit."
        ),
        gettext_lazy(
            "With clamps on the suction and the liquid line, note their temperatures too: they show "
            "more of the charge than the gauges."
        ),
        gettext_lazy("Stop the unit and wait before you take the gauges off."),
    ],
    "settings": [
        gettext_lazy("Set the cutoff voltage that the plate and the battery's type ask for."),
        gettext_lazy("Set the set-point with the driver."),
        gettext_lazy("Show the driver on, off, set-point, and what a cutoff at night means."),
    ],
}
