"""What shunt and compound motors have in common beside their equations (shunt.py): parameters and controls.

It makes one record of constants out of a motor's parameters and its controls; it never steps anything.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from math import inf, lcm, pi
from typing import Any

import numpy as np

from simulator.motors import shunt
from simulator.motors.brushes import Brushes
from simulator.motors.commutator import BAD_BAR_SHARE, WORN_RIPPLE, renewed
from simulator.motors.motor import Model
from simulator.physics.control import Control, ranged
from simulator.physics.direct import SUPPLY_CONTROLS, fill_supply, supply_j
from simulator.physics.index_pulse import FROM_ZERO, shaft_level
from simulator.physics.load import LOAD_CONTROLS, fill_load
from simulator.physics.warmth import WARMTH_CONTROLS, Thermal, fill_warmth

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
    Control("brush_wear", 0, 0, 1, "0 new, 1 worn out: resistance, contact ripple, noise and arcs"),
    Control("bad_bar", 0, 0, 1, "one bar of the commutator: 0 as the others, 1 hardly any contact"),
    *LOAD_CONTROLS,
    *WARMTH_CONTROLS,
)


_RANGES = {
    "armature_ohm": (1e-9, inf),
    "armature_h": (1e-7, 1e3),
    "field_ohm": (1e-6, inf),
    "field_h": (1e-7, 1e6),
    "saturation_a": (1e-6, inf),
    "inertia_kg_m2": (1e-9, inf),
    "bars": (1, 1000),
    "poles": (2, 100),
    "rated_a": (1e-6, inf),
}


@dataclass(frozen=True, slots=True)
class Parameters:
    """One motor with a field winding of its own. Rated current is for noise, never for the equations."""

    armature_ohm: float
    armature_h: float
    field_ohm: float
    field_h: float
    flux_v_s: float
    saturation_a: float
    residual_v_s: float
    brush_v: float
    inertia_kg_m2: float
    dry_n_m: float
    viscous_n_m_s: float
    bars: int
    poles: int
    contact_ripple: float
    emf_ripple: float
    rated_a: float
    worn_ohm: float
    usual: Mapping[str, float]
    thermal: Thermal
    series_ohm: float = 0.0
    series_turns: float = 0.0  # of the shunt field's; below 0: differential

    def __post_init__(self) -> None:
        """ValueError: what the model cannot follow."""
        ranged(self, _RANGES)

    @property
    def ripples_per_turn(self) -> int:
        """c = lcm(bars, poles), from memory."""
        return lcm(self.bars, self.poles)


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
    wear, shorted = controls["brush_wear"], controls["series_shorted"] > 0
    turns = -motor.series_turns if controls["series_reversed"] > 0 else motor.series_turns
    case["series_turns"] = 0.0 if shorted else turns
    case["winding_ohm"] = motor.armature_ohm + (0.0 if shorted else motor.series_ohm)
    case["brush_ohm"], case["starter_ohm"] = motor.worn_ohm * wear, controls["starter_ohm"]
    case["lead_ohm"], case["armature_h"] = controls["lead_ohm"], motor.armature_h
    case["field_ohm"], case["field_h"] = motor.field_ohm, motor.field_h
    case["rheostat_ohm"], case["field_v"] = controls["field_rheostat_ohm"], controls["field_supply_v"]
    case["field_separate"] = controls["field_separate"] > 0
    case["field_closed"] = controls["field_connected"] > 0
    case["armature_way"] = -1.0 if controls["armature_reversed"] > 0 else 1.0
    case["field_way"] = -1.0 if controls["field_reversed"] > 0 else 1.0
    case["flux_v_s"], case["saturation_a"] = motor.flux_v_s, motor.saturation_a
    case["residual_v_s"], case["brush_v"] = motor.residual_v_s, motor.brush_v
    case["ripples"], case["bars"], case["poles"] = motor.ripples_per_turn, motor.bars, motor.poles
    case["contact_ripple"], case["emf_ripple"] = motor.contact_ripple + WORN_RIPPLE * wear, motor.emf_ripple
    case["bad_bar_ohm"] = BAD_BAR_SHARE * motor.armature_ohm * controls["bad_bar"]
    return case


def at_rest(motor: Parameters, seed: int = 0) -> Any:
    """The state of a motor that has stood for long, (1,) records of shunt.STATE; the shaft pulse is high."""
    state = np.zeros(1, dtype=shunt.STATE)
    state["angle_rad"], state["winding_c"], state["case_c"] = pi / 2, 20, 20
    return state


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
    return Model(
        signals=shunt.SIGNALS,
        inputs=("shaft_pulse",),
        truths=shunt.TRUTHS,
        controls=CONTROLS,
        parameter_sets=sets,
        longest_step_s=50e-6,
        run=shunt.run,
        constants=constants,
        at_rest=at_rest,
        stored_j=stored_j,
        level=shaft_level(FROM_ZERO),
        renewed=renewed,
        usual=lambda motor: motor.usual,
        disturbance=_disturbance,
    )
