"""What commutator motors with one current have in common beside their equations (series.py): parameters and controls.

It makes one record of constants out of a motor's parameters and its controls; it never steps anything.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from math import inf, lcm, pi
from typing import Any

import numpy as np

from simulator.motors import series
from simulator.motors.brushes import Brushes
from simulator.motors.motor import Model
from simulator.physics.control import Control, ranged
from simulator.physics.direct import SUPPLY_CONTROLS, emptied, fill_supply, supply_j
from simulator.physics.index_pulse import FROM_ZERO, shaft_level
from simulator.physics.load import LOAD_CONTROLS, fill_load
from simulator.physics.warmth import WARMTH_CONTROLS, Thermal, cooled, fill_warmth

BAD_BAR_SHARE = 2.0  # resistance of the worst bar, of the winding's (assumed)
WORN_RIPPLE = 0.1  # what worn brushes add to the contact ripple (assumed, within the sheet's 0.05 to 0.2)
CONTROLS = (
    *SUPPLY_CONTROLS,
    Control("lead_ohm", 0, 0, 1000, "poor contact in the lead from the supply to the motor"),
    Control("field_reversed", 0, 0, 1, "ends of the field, or of the armature, exchanged; nothing to a magnet motor"),
    Control("brush_wear", 0, 0, 1, "0 new, 1 worn out: resistance, contact ripple, noise and arcs"),
    Control("bad_bar", 0, 0, 1, "one bar of the commutator: 0 as the others, 1 hardly any contact"),
    *LOAD_CONTROLS,
    *WARMTH_CONTROLS,
)


_RANGES = {
    "winding_ohm": (1e-9, inf),
    "winding_h": (1e-7, 1e3),
    "saturation_a": (1e-6, inf),
    "inertia_kg_m2": (1e-9, inf),
    "bars": (1, 1000),
    "poles": (2, 100),
    "rated_a": (1e-6, inf),
}


@dataclass(frozen=True, slots=True)
class Parameters:
    """One motor with one current. Rated figures are for stories and noise, never for the equations."""

    winding_ohm: float
    winding_h: float
    brush_v: float
    inertia_kg_m2: float
    bars: int
    poles: int
    contact_ripple: float
    emf_ripple: float
    rated_a: float
    worn_ohm: float  # what brushes at their end add
    usual: Mapping[str, float]  # the supply that belongs to it
    thermal: Thermal
    magnet_v_s: float = 0.0
    field_v_s: float = 0.0
    saturation_a: float = 1.0
    residual_v_s: float = 0.0
    dry_n_m: float = 0.0
    viscous_n_m_s: float = 0.0
    own_fan_n_m_s2: float = 0.0
    fan_n_m_s2: float = 0.0

    def __post_init__(self) -> None:
        """ValueError: what the model cannot follow."""
        ranged(self, _RANGES)

    @property
    def ripples_per_turn(self) -> int:
        """c = lcm(bars, poles), from memory."""
        return lcm(self.bars, self.poles)


def constants(motor: Parameters, controls: Mapping[str, float]) -> Any:
    """One case, (1,) records of series.CONSTANTS."""
    case = np.zeros(1, dtype=series.CONSTANTS)
    fill_supply(case["supply"][0], controls)
    fill_load(
        case["load"][0],
        controls,
        inertia_kg_m2=motor.inertia_kg_m2,
        dry_n_m=motor.dry_n_m,
        viscous_n_m_s=motor.viscous_n_m_s,
        own_fan_n_m_s2=motor.own_fan_n_m_s2,
        fan_n_m_s2=motor.fan_n_m_s2,
    )
    fill_warmth(case["warmth"][0], motor.thermal, controls)
    wear, sense = controls["brush_wear"], -1.0 if controls["field_reversed"] > 0 else 1.0
    case["winding_ohm"], case["winding_h"] = motor.winding_ohm, motor.winding_h
    case["brush_ohm"], case["lead_ohm"] = motor.worn_ohm * wear, controls["lead_ohm"]
    case["magnet_v_s"], case["field_v_s"] = motor.magnet_v_s, sense * motor.field_v_s
    case["saturation_a"], case["residual_v_s"] = motor.saturation_a, sense * motor.residual_v_s
    case["brush_v"], case["ripples"] = motor.brush_v, motor.ripples_per_turn
    case["contact_ripple"] = motor.contact_ripple + WORN_RIPPLE * wear
    case["emf_ripple"], case["bars"], case["poles"] = motor.emf_ripple, motor.bars, motor.poles
    case["bad_bar_ohm"] = BAD_BAR_SHARE * motor.winding_ohm * controls["bad_bar"]
    return case


def at_rest(motor: Parameters, seed: int = 0) -> Any:
    """The state of a motor that has stood for long, (1,) records of series.STATE; the shaft pulse is high."""
    state = np.zeros(1, dtype=series.STATE)
    state["angle_rad"], state["winding_c"], state["case_c"] = pi / 2, 20, 20
    return state


def stored_j(case: Any, state: Any) -> float:
    """Energy in winding, supply, capacitor and shaft."""
    supply = case["supply"]
    magnetic = (case["winding_h"] + supply["series_h"]) * state["current_a"] ** 2
    shaft = case["load"]["inertia_kg_m2"] * state["speed_rad_s"] ** 2
    return float(0.5 * (magnetic + shaft) + supply_j(supply, state))


def renewed(motor: Any, case: Any, state: Any) -> None:
    """Cold, its supply's capacitor empty, its battery full."""
    cooled(case["warmth"], state)
    emptied(case["supply"], state)
    state["flicker_rad"] = state["swing_rad"] = 0.0


def _disturbance(motor: Parameters, rate_hz: float, random: np.random.Generator) -> Brushes:
    return Brushes(
        rate_hz, random, ohm=motor.winding_ohm, henry=motor.winding_h, rated_a=motor.rated_a,
        ripples_per_turn=motor.ripples_per_turn,
    )  # fmt: skip


def model(sets: Mapping[str, Parameters], longest_step_s: float) -> Model:
    """The type that has these motors on the bench."""
    return Model(
        signals=series.SIGNALS,
        inputs=("shaft_pulse",),
        truths=series.TRUTHS,
        controls=CONTROLS,
        parameter_sets=sets,
        longest_step_s=longest_step_s,
        run=series.run,
        constants=constants,
        at_rest=at_rest,
        stored_j=stored_j,
        level=shaft_level(FROM_ZERO),
        renewed=renewed,
        usual=lambda motor: motor.usual,
        disturbance=_disturbance,
    )
