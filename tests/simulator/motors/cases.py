"""Many operating points of a motor integrated in one call, and the figures that are read from them."""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from simulator.motors import brushless, permanent_split_capacitor, single_phase, six_step
from simulator.motors.motor import initial
from simulator.stepping import Block

Floats = NDArray[np.float64]


def ventilators(
    rows: Sequence[tuple[permanent_split_capacitor.Parameters, Mapping[str, float]]],
) -> tuple[Any, Any]:
    """Constants and resting states: each row a motor on its own mains, with controls that differ from the usual."""
    cases = [
        permanent_split_capacitor.constants(
            motor,
            {
                **initial(permanent_split_capacitor.CONTROLS),
                "supply_on": 1,
                "mains_v": motor.mains_v,
                "mains_hz": motor.mains_hz,
                **controls,
            },
        )
        for motor, controls in rows
    ]
    return np.concatenate(cases), np.concatenate([permanent_split_capacitor.at_rest()] * len(rows))


def thrusters(rows: Sequence[tuple[brushless.Parameters, Mapping[str, float]]]) -> tuple[Any, Any]:
    """The same for the brushless motor: full duty and no current limit unless a row says otherwise."""
    usual = {**initial(brushless.CONTROLS), "supply_on": 1, "duty": 1, "current_limit_a": np.inf}
    cases = [brushless.constants(motor, {**usual, **controls}) for motor, controls in rows]
    return np.concatenate(cases), np.concatenate([brushless.at_rest(motor) for motor, _ in rows])


def run_ventilators(cases: Any, states: Any, seconds: float, rate_hz: float = 20_000.0, steps: int = 1) -> Block:
    return single_phase.advance(cases, states, 0, round(seconds * rate_hz), rate_hz, steps)


def run_thrusters(cases: Any, states: Any, seconds: float, rate_hz: float = 100_000.0, steps: int = 5) -> Block:
    return six_step.advance(cases, states, 0, round(seconds * rate_hz), rate_hz, steps)


def rms(samples: Floats) -> Floats:
    """Over the last axis."""
    return np.asarray(np.sqrt(np.mean(samples**2, axis=-1)))


def rpm(speed_rad_s: Floats) -> Floats:
    """Mean over the last axis, in r/min."""
    return np.asarray(np.mean(speed_rad_s, axis=-1) * 30 / np.pi)
