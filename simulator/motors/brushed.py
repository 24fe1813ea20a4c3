"""What commutator motors with one current (series.py) and with two (shunt.py) have in common beside their equations.

Parameters and controls of brushes and commutator, the state at rest, the type as one record. It makes records out of
parameters and controls; it never steps anything.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from math import inf, lcm, pi
from typing import Any

import numpy as np

from simulator.motors.motor import Model
from simulator.physics.control import Control, ranged
from simulator.physics.direct import emptied
from simulator.physics.index_pulse import FROM_ZERO, shaft_level
from simulator.physics.warmth import Thermal, cooled

BAD_BAR_SHARE = 2.0  # resistance of the worst bar, of the winding's (assumed)
WORN_RIPPLE = 0.1  # what worn brushes add to the contact ripple (assumed, within the sheet's 0.05 to 0.2)
BRUSH_CONTROLS = (
    Control("brush_wear", 0, 0, 1, "0 new, 1 worn out: resistance, contact ripple, noise and arcs"),
    Control("bad_bar", 0, 0, 1, "one bar of the commutator: 0 as the others, 1 hardly any contact"),
)
_RANGES = {
    "saturation_a": (1e-6, 1e12),
    "inertia_kg_m2": (1e-9, 1e12),
    "bars": (1, 1000),
    "poles": (2, 100),
    "rated_a": (1e-6, inf),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Brushed:
    """A motor with brushes. Rated current is for stories and noise, never for the equations."""

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
    saturation_a: float = 1.0
    residual_v_s: float = 0.0
    dry_n_m: float = 0.0
    viscous_n_m_s: float = 0.0

    def __post_init__(self) -> None:
        """ValueError: what the model cannot follow."""
        ranged(self, _RANGES)

    @property
    def ripples_per_turn(self) -> int:
        """c = lcm(bars, poles), from memory."""
        return lcm(self.bars, self.poles)


def fill_brushes(case: Any, motor: Brushed, winding_ohm: float, controls: Mapping[str, float]) -> None:
    """Fill what series.BRUSHES names; a bad bar is a share of `winding_ohm`."""
    wear = controls["brush_wear"]
    case["brush_v"], case["brush_ohm"] = motor.brush_v, motor.worn_ohm * wear
    case["ripples"], case["bars"], case["poles"] = motor.ripples_per_turn, motor.bars, motor.poles
    case["contact_ripple"], case["emf_ripple"] = motor.contact_ripple + WORN_RIPPLE * wear, motor.emf_ripple
    case["bad_bar_ohm"] = BAD_BAR_SHARE * winding_ohm * controls["bad_bar"]


def _renewed(motor: Brushed, case: Any, state: Any) -> None:
    """Cold, its supply's capacitor empty, its battery full."""
    cooled(case["warmth"], state)
    emptied(case["supply"], state)
    state["flicker_rad"] = state["swing_rad"] = 0.0


def brushed_model(
    loop: Any,
    sets: Mapping[str, Any],
    controls: tuple[Control, ...],
    longest_step_s: float,
    constants: Callable[[Any, Mapping[str, float]], Any],
    stored_j: Callable[[Any, Any], float],
    disturbance: Callable[[Any, float, np.random.Generator], Any],
) -> Model:
    """The type that has these motors on the bench; `loop` is the file of its equations, series or shunt."""

    def at_rest(motor: Brushed, seed: int = 0) -> Any:
        """A motor that has stood for long; the shaft pulse is high."""
        state = np.zeros(1, dtype=loop.STATE)
        state["angle_rad"], state["winding_c"], state["case_c"] = pi / 2, 20, 20
        return state

    return Model(
        signals=loop.SIGNALS,
        inputs=("shaft_pulse",),
        truths=loop.TRUTHS,
        controls=controls,
        parameter_sets=sets,
        longest_step_s=longest_step_s,
        run=loop.run,
        constants=constants,
        at_rest=at_rest,
        stored_j=stored_j,
        level=shaft_level(FROM_ZERO),
        renewed=_renewed,
        usual=lambda motor: motor.usual,
        disturbance=disturbance,
    )
