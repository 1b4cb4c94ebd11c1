"""Discharges of a lead-acid block by an independent model, to hold our capacity estimates against.

PyBaMM's full porous-electrode model with its parameters of a small valve-regulated battery (Sulzer
and others 2019, 'Faster lead-acid battery simulations from porous-electrode theory'). It knows
nothing of Peukert: what a high current leaves behind in the plates comes out of the diffusion of
the acid. Six cells in series are one 12 V block, at 25 °C.

A `Wear` says what is left of the parts whose loss makes a bank tire: the plates' area (shed active
material), the thickness of the positive ones, and the acid (bound in hard sulphate).
"""

import os
from functools import cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

# The cell's nameplate, and where SAE J537 ends a discharge: 1.75 V a cell.
NOMINAL_AH, EMPTY_V = 17.0, 10.5
ROOM_K = 298.15


class Wear(NamedTuple):
    plates: float = 1.0
    positive: float = 1.0
    acid: float = 1.0


SOUND = Wear()


@cache
def discharge(amps: float, wear: Wear = SOUND) -> tuple[NDArray, NDArray]:
    """Return hours and volts of a block from full down to 10.5 V at a steady current."""
    # It asks whether it may report its use, unless it is told.
    os.environ["PYBAMM_DISABLE_TELEMETRY"] = "true"
    import pybamm

    cell = pybamm.ParameterValues("Sulzer2019")
    for name, left in (
        ("Electrode width [m]", wear.plates),
        ("Positive electrode thickness [m]", wear.positive),
        ("Initial concentration in electrolyte [mol.m-3]", wear.acid),
    ):
        cell[name] = cell[name] * left
    cell["Ambient temperature [K]"] = cell["Initial temperature [K]"] = ROOM_K
    cell["Current function [A]"] = amps
    solved = pybamm.Simulation(pybamm.lead_acid.Full(), parameter_values=cell).solve(
        [0, 3600 * 2 * NOMINAL_AH / amps]
    )
    seconds = np.linspace(0, solved.t[-1], 2_000)
    return seconds / 3600, 6 * solved["Voltage [V]"](seconds)


def hours_to(volts: float, amps: float, wear: Wear = SOUND) -> float:
    """Return the hours from full until the block under this current has sunk to these volts."""
    hours, at = discharge(amps, wear)
    return float(np.interp(-volts, -at, hours))


@cache
def capacity_ah(wear: Wear = SOUND) -> float:
    """Return the 20-hour capacity, Ah: what the block gives down to 10.5 V in twenty hours."""
    given = NOMINAL_AH
    for _towards_twenty_hours in range(2):
        amps = given / 20
        given = hours_to(EMPTY_V, amps, wear) * amps
    return given
