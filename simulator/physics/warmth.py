"""Winding and case as two thermal nodes, and the resistance that follows.

    C_w d(theta_w)/dt = P - (theta_w - theta_c) / R_wc
    C_c d(theta_c)/dt = (theta_w - theta_c) / R_wc - (theta_c - theta_a) / R_ca
    R(theta) = R_20 (235 + theta) / 255   (copper; textbook rule, tests name its published case)
    a cage of aluminium: R_20 (225 + theta) / 245

Constants of the nodes are invented. Heat is slow: one step per sample, resistance still over one sample.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from math import inf
from typing import Any

import numpy as np

from simulator.physics.control import Control, ranged
from simulator.physics.stepping import compiled, inlined

WARMTH = np.dtype(
    [
        ("winding_j_k", "f8"),
        ("case_j_k", "f8"),
        ("winding_to_case_k_w", "f8"),
        ("case_to_air_k_w", "f8"),
        ("ambient_c", "f8"),
        ("resistance_follows", "i8"),
    ]
)
WARMTH_CONTROLS = (
    Control("ambient_c", 20, -40, 80, "temperature of the air around the motor"),
    Control("resistance_follows", 0, 0, 1, "winding resistance follows the winding's temperature; off: as at 20 C"),
)


@dataclass(frozen=True, slots=True)
class Thermal:
    """Thermal constants of one motor, invented: small open motors have time constants of 10 to 30 minutes."""

    winding_j_k: float
    case_j_k: float
    winding_to_case_k_w: float
    case_to_air_k_w: float

    def __post_init__(self) -> None:
        """ValueError: what the model cannot follow."""
        ranged(self, dict.fromkeys(self.__slots__, (1e-06, inf)))


def fill_warmth(warmth: Any, thermal: Thermal, controls: Mapping[str, float]) -> None:
    """Fill one WARMTH record."""
    for name in thermal.__slots__:
        warmth[name] = getattr(thermal, name)
    warmth["ambient_c"], warmth["resistance_follows"] = controls["ambient_c"], controls["resistance_follows"] > 0


def cooled(warmth: Any, state: Any) -> None:
    """Let a state with `winding_c` and `case_c` be as warm as the air."""
    state["winding_c"] = state["case_c"] = warmth["ambient_c"]


@compiled
def warmed(
    warmth: Any, winding_c: float, case_c: float, winding_w: float, case_w: float, seconds: float
) -> tuple[float, float]:
    """Both temperatures after a short time with these losses."""
    across_w = (winding_c - case_c) / warmth.winding_to_case_k_w
    away_w = (case_c - warmth.ambient_c) / warmth.case_to_air_k_w
    return (
        winding_c + seconds * (winding_w - across_w) / warmth.winding_j_k,
        case_c + seconds * (case_w + across_w - away_w) / warmth.case_j_k,
    )


@inlined
def sample_warmed(warmth: Any, state: Any, seconds: float) -> None:
    """The same for a state that has counted its `copper_j` since the last sample, `seconds` ago; it counts anew."""
    winding_w = state.copper_j / seconds
    state.winding_c, state.case_c = warmed(warmth, state.winding_c, state.case_c, winding_w, 0.0, seconds)
    state.copper_j = 0.0


@compiled
def resistance_factor(warmth: Any, winding_c: float) -> float:
    """What a resistance at 20 C is multiplied by."""
    return (235.0 + winding_c) / 255.0 if warmth.resistance_follows else 1.0


@compiled
def cage_factor(warmth: Any, winding_c: float) -> float:
    """The same for a cage of aluminium, taken to be as warm as the winding (assumed)."""
    return (225.0 + winding_c) / 245.0 if warmth.resistance_follows else 1.0
