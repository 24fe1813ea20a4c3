"""How the models are stepped: compiled loops over cases, and the arrays that they fill.

A compiled loop takes one record of constants and one of state for each case, so a test integrates many
operating points in one call and a board runs the very same code with one. States go in and out
explicitly; nothing is kept between calls.
"""

import hashlib
import os
import shutil
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from math import ceil, pi
from pathlib import Path
from typing import TypeVar, cast

import numpy as np
from numpy.typing import NDArray

try:
    from numba import config as numba_config
    from numba import njit
except ModuleNotFoundError:
    raise ModuleNotFoundError("the software board needs numba: pip install 'slipring[demo]'") from None

_F = TypeVar("_F", bound=Callable[..., object])


CACHES_KEPT = 4


def _cache_of_these_sources() -> Path:
    """The compiler looks at the date of the file that holds a loop, not at those that the loop calls into.

    So machine code is kept in a folder that is named after the text of all models; the newest few are left.
    """
    here = Path(__file__).parent
    digest = hashlib.sha256()
    for file in sorted([*here.glob("*.py"), *here.parent.glob("motors/*.py")]):
        digest.update(file.read_bytes())
    beside = here / "__pycache__" if os.access(here, os.W_OK) else Path.home() / ".cache" / "slipring"
    ours = Path(getattr(numba_config, "CACHE_DIR", "") or beside) / "models" / digest.hexdigest()[:12]
    with suppress(OSError):  # another process forgets them too
        others = [folder for folder in ours.parent.glob("*") if folder != ours]
        for old in sorted(others, key=lambda folder: folder.stat().st_mtime)[:-CACHES_KEPT]:
            shutil.rmtree(old, ignore_errors=True)
    return ours


setattr(numba_config, "CACHE_DIR", str(_cache_of_these_sources()))  # noqa: B010  # its types do not know it


def compiled(function: _F) -> _F:
    """The function as machine code, kept on disk where that is possible. No relaxed arithmetic: bits must repeat."""
    try:
        fast = njit(cache=True, error_model="numpy")(function)
    except (RuntimeError, OSError):  # no folder to write to: compiled anew in each process
        fast = njit(error_model="numpy")(function)
    return cast(_F, fast)


def inlined(function: _F) -> _F:
    """The same for a small function that a loop calls in every step: it becomes a part of what calls it."""
    return cast(_F, njit(error_model="numpy", forceinline=True)(function))


def steps_per_sample(rate_hz: float, longest_step_s: float) -> int:
    """Equal steps from one sample to the next, none longer than `longest_step_s`."""
    return max(1, ceil(1 / (rate_hz * longest_step_s) - 1e-3))  # a clock that is a little slow costs no step


@dataclass(frozen=True, slots=True)
class Block:
    """What a loop fills for all its cases.

    `values` (cases, signals, samples); `speed_rad_s`, `torque_n_m` (air gap), `angle_rad` (mechanical, not
    wrapped) (cases, samples); `truths` (cases, truths, samples): what no channel sees; of `edge_times_s`
    and `edge_states` (cases, steps) the first `edge_counts` (cases,) are filled.
    """

    values: NDArray[np.float64]
    speed_rad_s: NDArray[np.float64]
    torque_n_m: NDArray[np.float64]
    angle_rad: NDArray[np.float64]
    truths: NDArray[np.float64]
    edge_times_s: NDArray[np.float64]
    edge_states: NDArray[np.uint8]
    edge_counts: NDArray[np.int64]


def empty_block(cases: int, signals: int, truths: int, samples: int, steps: int) -> Block:
    """Room for `samples` samples with `steps` steps each; a step brings one edge at most."""
    speed, torque, angle = np.empty((3, cases, samples))
    return Block(
        np.empty((cases, signals, samples)),
        speed,
        torque,
        angle,
        np.empty((cases, truths, samples)),
        np.empty((cases, samples * steps)),
        np.empty((cases, samples * steps), dtype=np.uint8),
        np.zeros(cases, dtype=np.int64),
    )


@compiled
def settled(number: float) -> float:
    """Nothing, once so little is left: numbers that die away for ever become slow to compute."""
    return number if abs(number) > 1e-12 else 0.0


@inlined
def turned_on(phase_rad: float, step_rad: float) -> float:
    """A phase after a step of less than a turn, within one turn; quicker than a remainder."""
    phase_rad += step_rad
    return phase_rad - 2.0 * pi if phase_rad >= 2.0 * pi else phase_rad
