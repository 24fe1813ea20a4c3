"""What commutator motors with one current have in common beside their equations (series.py): parameters and controls.

It makes one record of constants out of a motor's parameters and its controls; it never steps anything.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from simulator.motors import series
from simulator.motors.brushed import BRUSH_CONTROLS, Brushed, brushed_model, fill_brushes
from simulator.motors.brushes import Brushes
from simulator.motors.motor import Model
from simulator.physics.control import Control, ranged
from simulator.physics.direct import SUPPLY_CONTROLS, fill_supply, supply_j
from simulator.physics.load import LOAD_CONTROLS, fill_load
from simulator.physics.warmth import WARMTH_CONTROLS, fill_warmth

CONTROLS = (
    *SUPPLY_CONTROLS,
    Control("lead_ohm", 0, 0, 1000, "poor contact in the lead from the supply to the motor"),
    Control("field_reversed", 0, 0, 1, "ends of the field, or of the armature, exchanged; nothing to a magnet motor"),
    *BRUSH_CONTROLS,
    *LOAD_CONTROLS,
    *WARMTH_CONTROLS,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Parameters(Brushed):
    """One motor with one current."""

    winding_ohm: float
    winding_h: float
    magnet_v_s: float = 0.0
    field_v_s: float = 0.0
    own_fan_n_m_s2: float = 0.0
    fan_n_m_s2: float = 0.0

    def __post_init__(self) -> None:
        """ValueError: what the model cannot follow."""
        Brushed.__post_init__(self)
        ranged(self, {"winding_ohm": (1e-9, 1e12), "winding_h": (1e-7, 1e3)})


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
    fill_brushes(case, motor, motor.winding_ohm, controls)
    sense = -1.0 if controls["field_reversed"] > 0 else 1.0
    case["winding_ohm"], case["winding_h"], case["lead_ohm"] = motor.winding_ohm, motor.winding_h, controls["lead_ohm"]
    case["magnet_v_s"], case["field_v_s"] = motor.magnet_v_s, sense * motor.field_v_s
    case["saturation_a"], case["residual_v_s"] = motor.saturation_a, sense * motor.residual_v_s
    return case


def stored_j(case: Any, state: Any) -> float:
    """Energy in winding, supply, capacitor and shaft."""
    supply = case["supply"]
    magnetic = (case["winding_h"] + supply["series_h"]) * state["current_a"] ** 2
    shaft = case["load"]["inertia_kg_m2"] * state["speed_rad_s"] ** 2
    return float(0.5 * (magnetic + shaft) + supply_j(supply, state))


def _disturbance(motor: Parameters, rate_hz: float, random: np.random.Generator) -> Brushes:
    return Brushes(
        rate_hz, random, ohm=motor.winding_ohm, henry=motor.winding_h, rated_a=motor.rated_a,
        ripples_per_turn=motor.ripples_per_turn,
    )  # fmt: skip


def model(sets: Mapping[str, Parameters], longest_step_s: float) -> Model:
    """The type that has these motors on the bench."""
    return brushed_model(series, sets, CONTROLS, longest_step_s, constants, stored_j, _disturbance)
