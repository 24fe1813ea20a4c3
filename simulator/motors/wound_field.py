"""What shunt and compound motors have in common beside their equations (shunt.py): parameters and controls.

It makes one record of constants out of a motor's parameters and its controls; it never steps anything.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from simulator.motors import shunt
from simulator.motors.brushed import BRUSH_CONTROLS, Brushed, brushed_model, fill_brushes
from simulator.motors.brushes import Brushes
from simulator.motors.motor import Model
from simulator.physics.control import Control, ranged
from simulator.physics.direct import SUPPLY_CONTROLS, fill_supply, supply_j
from simulator.physics.load import LOAD_CONTROLS, fill_load
from simulator.physics.warmth import WARMTH_CONTROLS, fill_warmth

CONTROLS = (
    *SUPPLY_CONTROLS,
    Control("lead_ohm", 0, 0, 1000, "poor contact in the lead from the supply to armature and field"),
    Control("starter_ohm", 0, 0, 1000, "starter in the armature's branch, before its channel's voltage"),
    Control("field_connected", 1, 0, 1, "field lead; broken, its current dies in an arc of 10 ms"),
    Control("field_separate", 0, 0, 1, "field on its own supply, which is always on; off: beside the armature"),
    Control("field_supply_v", 180, -1000, 1000, "voltage of the field's own supply"),
    Control("field_rheostat_ohm", 0, 0, 100_000, "resistance before the field: weakens it"),
    Control("armature_reversed", 0, 0, 1, "leads of the armature exchanged"),
    Control("field_reversed", 0, 0, 1, "leads of the shunt field exchanged"),
    Control("series_shorted", 0, 0, 1, "series field bridged; nothing to a shunt motor"),
    Control("series_reversed", 0, 0, 1, "ends of the series field exchanged: cumulative becomes differential"),
    *BRUSH_CONTROLS,
    *LOAD_CONTROLS,
    *WARMTH_CONTROLS,
)
_RANGES = {
    "armature_ohm": (1e-9, 1e12),
    "armature_h": (1e-7, 1e3),
    "field_ohm": (1e-6, 1e12),
    "field_h": (1e-7, 1e6),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Parameters(Brushed):
    """One motor with a field winding of its own."""

    armature_ohm: float
    armature_h: float
    field_ohm: float
    field_h: float
    flux_v_s: float
    series_ohm: float = 0.0
    series_turns: float = 0.0  # of the shunt field's; below 0: differential

    def __post_init__(self) -> None:
        """ValueError: what the model cannot follow."""
        Brushed.__post_init__(self)
        ranged(self, _RANGES)


def constants(motor: Parameters, controls: Mapping[str, float]) -> Any:
    """One case, (1,) records of shunt.CONSTANTS."""
    case = np.zeros(1, dtype=shunt.CONSTANTS)
    fill_supply(case["supply"][0], controls)
    fill_load(
        case["load"][0],
        controls,
        inertia_kg_m2=motor.inertia_kg_m2,
        dry_n_m=motor.dry_n_m,
        viscous_n_m_s=motor.viscous_n_m_s,
    )
    fill_warmth(case["warmth"][0], motor.thermal, controls)
    fill_brushes(case, motor, motor.armature_ohm, controls)
    shorted = controls["series_shorted"] > 0
    turns = -motor.series_turns if controls["series_reversed"] > 0 else motor.series_turns
    case["series_turns"] = 0.0 if shorted else turns
    case["winding_ohm"] = motor.armature_ohm + (0.0 if shorted else motor.series_ohm)
    case["lead_ohm"], case["starter_ohm"] = controls["lead_ohm"], controls["starter_ohm"]
    for name in ("armature_h", "field_ohm", "field_h", "flux_v_s", "saturation_a", "residual_v_s"):
        case[name] = getattr(motor, name)
    case["rheostat_ohm"], case["field_v"] = controls["field_rheostat_ohm"], controls["field_supply_v"]
    case["field_separate"] = controls["field_separate"] > 0
    case["field_closed"] = controls["field_connected"] > 0
    case["armature_way"] = -1.0 if controls["armature_reversed"] > 0 else 1.0
    case["field_way"] = -1.0 if controls["field_reversed"] > 0 else 1.0
    return case


def stored_j(case: Any, state: Any) -> float:
    """Energy in armature, field, supply, capacitor and shaft."""
    supply = case["supply"]
    magnetic = (case["armature_h"] + supply["series_h"]) * state["armature_a"] ** 2
    magnetic += case["field_h"] * state["field_a"] ** 2
    shaft = case["load"]["inertia_kg_m2"] * state["speed_rad_s"] ** 2
    return float(0.5 * (magnetic + shaft) + supply_j(supply, state))


def _disturbance(motor: Parameters, rate_hz: float, random: np.random.Generator) -> Brushes:
    return Brushes(
        rate_hz, random, ohm=motor.armature_ohm, henry=motor.armature_h, rated_a=motor.rated_a,
        ripples_per_turn=motor.ripples_per_turn, supply_a=None,
    )  # fmt: skip


def model(sets: Mapping[str, Parameters]) -> Model:
    """The type that has these motors on the bench."""
    return brushed_model(shunt, sets, CONTROLS, 50e-6, constants, stored_j, _disturbance)
