"""How the models are stepped: compiled loops over cases, and the arrays that they fill.

A compiled loop takes one record of constants and one of state for each case, so a test integrates many
operating points in one call and a board runs the very same code with one. States go in and out
explicitly; nothing is kept between calls. Each motor's equations and its loop stand in one file on
purpose: the compiler's cache looks at the date of the file that holds the loop and at no other.
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import ceil
from typing import TypeVar, cast

import numpy as np
from numpy.typing import NDArray

try:
    from numba import njit
except ModuleNotFoundError:
    raise ModuleNotFoundError("the software board needs numba: pip install 'slipring[demo]'") from None

_F = TypeVar("_F", bound=Callable[..., object])


def compiled(function: _F) -> _F:
    """The function as machine code, kept on disk where that is possible. No relaxed arithmetic: bits must repeat."""
    try:
        fast = njit(cache=True, error_model="numpy")(function)
    except RuntimeError:  # no folder to write to: compiled anew in each process
        fast = njit(error_model="numpy")(function)
    return cast(_F, fast)


def steps_per_sample(rate_hz: float, longest_step_s: float) -> int:
    """Equal steps from one sample to the next, none longer than `longest_step_s`."""
    return max(1, ceil(1 / (rate_hz * longest_step_s) - 1e-3))  # a clock that is a little slow costs no step


@dataclass(frozen=True, slots=True)
class Block:
    """What a loop fills for all its cases.

    `values` (cases, signals, samples); `speed_rad_s`, `torque_n_m`, `angle_rad` (cases, samples); of
    `edge_times_s` and `edge_states` (cases, steps) the first `edge_counts` (cases,) are filled.
    """

    values: NDArray[np.float64]
    speed_rad_s: NDArray[np.float64]
    torque_n_m: NDArray[np.float64]
    angle_rad: NDArray[np.float64]
    edge_times_s: NDArray[np.float64]
    edge_states: NDArray[np.uint8]
    edge_counts: NDArray[np.int64]


def empty_block(cases: int, signals: int, samples: int, steps: int) -> Block:
    """Room for `samples` samples with `steps` steps each; a step brings one edge at most."""
    speed, torque, angle = np.empty((3, cases, samples))
    return Block(
        np.empty((cases, signals, samples)),
        speed,
        torque,
        angle,
        np.empty((cases, samples * steps)),
        np.empty((cases, samples * steps), dtype=np.uint8),
        np.zeros(cases, dtype=np.int64),
    )
