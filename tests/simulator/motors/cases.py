"""Many operating points of a type of motor integrated in one call, and the figures that are read from them."""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from simulator.motors.motor import Model, advance
from simulator.physics.control import changed, initial
from simulator.physics.stepping import Block

Floats = NDArray[np.float64]


def batch(model: Model, rows: Sequence[tuple[Any, Mapping[str, float]]], **common: float) -> tuple[Any, Any]:
    """Constants and resting states: each row a motor on its usual supply, switched on, with controls of its own.

    `common` are controls that all rows have unless they say otherwise.
    """
    cases = [
        model.constants(
            motor,
            changed(
                {**initial(model.controls), **model.usual(motor), "supply_on": 1.0},
                {**common, **controls},
                model.controls,
            ),
        )
        for motor, controls in rows
    ]
    return np.concatenate(cases), np.concatenate([model.at_rest(motor, 0) for motor, _ in rows])


def run(
    model: Model, cases: Any, states: Any, seconds: float, rate_hz: float = 20_000.0, steps: int | None = None,
    first: int = 0,
) -> Block:  # fmt: skip
    """The next `seconds` of all cases, with the type's own step unless `steps` says otherwise; changes `states`."""
    return advance(model, cases, states, first, round(seconds * rate_hz), rate_hz, steps)


def rms(samples: Floats) -> Floats:
    """Over the last axis."""
    return np.asarray(np.sqrt(np.mean(samples**2, axis=-1)))


def rpm(speed_rad_s: Floats) -> Floats:
    """Mean over the last axis, in r/min."""
    return np.asarray(np.mean(speed_rad_s, axis=-1) * 30 / np.pi)
