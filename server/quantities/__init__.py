"""Quantities: what the service computes from windows, and the catalogue of all their names.

QUANTITIES is in reading order; page, recorder, lines and API follow it by themselves. Each family has its file.
"""

from server.quantities.best_speed import SPEED_KEYS, best_speed
from server.quantities.commutation import COMMUTATION, COMMUTATION_LISTS, commutation_readings
from server.quantities.commutator import COMMUTATOR
from server.quantities.emf_constant import EMF_CONSTANTS
from server.quantities.emf_speed import EMF_SPEEDS
from server.quantities.energy import ENERGY, Energy, Stretch, energy_of
from server.quantities.frequency import FREQUENCY
from server.quantities.half_cycles import HALF_CYCLES
from server.quantities.harmonic_groups import EVERY_S, HARMONIC_GROUPS, HARMONIC_LISTS
from server.quantities.harmonics import HARMONICS
from server.quantities.levels import LEVELS
from server.quantities.line_speed import LINE_SPEEDS
from server.quantities.machine import MACHINE
from server.quantities.others import OTHERS, slow_reading
from server.quantities.phasors import PHASORS
from server.quantities.power import POWER
from server.quantities.quantity import Quantity
from server.quantities.sequence import SEQUENCE
from server.quantities.shaft import SHAFT, counted_speed, shaft_readings, speeds_by_inputs
from server.quantities.three_phase import TOGETHER
from server.quantities.unknown import why_unknown
from server.quantities.winding import WINDING
from server.quantities.window import readings_of, window_analysis, window_readings

RUN_STATE = Quantity(
    *("run_state", "", "state", "", 0),
    *("resting, starting, running, stalled, coasting or unknown, from current, voltage and edges", "ours"),
    "a current, a voltage or edges",
)
QUANTITIES: tuple[Quantity, ...] = (
    RUN_STATE,
    *SHAFT,
    *COMMUTATION,
    *LINE_SPEEDS,
    *EMF_SPEEDS,
    *FREQUENCY,
    *LEVELS,
    *HALF_CYCLES,
    *POWER,
    *ENERGY,
    *TOGETHER,
    *HARMONICS,
    *HARMONIC_GROUPS,
    *COMMUTATOR,
    *SEQUENCE,
    *PHASORS,
    *WINDING,
    *MACHINE,
    *EMF_CONSTANTS,
    *OTHERS,
)
_WORDS = ("run_state", "direction", "commutation_valid", "state_order", "speed_source", "power_factor_sense")
NO_LIMITS = {
    **dict.fromkeys((*_WORDS, "voltage_phase_order", "current_phase_order"), "a word"),
    **dict.fromkeys((*HARMONIC_LISTS, "current_harmonics_a", *COMMUTATION_LISTS), "a list"),
}  # readings that are no number: what each is instead

ONCE_A_SECOND = frozenset(each.key for each in (*HARMONIC_GROUPS, *COMMUTATION))

__all__ = [
    "EVERY_S",
    "HARMONIC_LISTS",
    "NO_LIMITS",
    "ONCE_A_SECOND",
    "QUANTITIES",
    "SPEED_KEYS",
    "Energy",
    "Quantity",
    "Stretch",
    "best_speed",
    "commutation_readings",
    "counted_speed",
    "energy_of",
    "readings_of",
    "shaft_readings",
    "slow_reading",
    "speeds_by_inputs",
    "why_unknown",
    "window_analysis",
    "window_readings",
]
