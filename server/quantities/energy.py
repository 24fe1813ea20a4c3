"""Energy and charge since the motor last started: the sum of window after window. Pure; the caller keeps the sum.

It begins anew when the motor starts or leaves its rest, and stands still while it rests. Time of which nothing is
known is not made up: it is said how long it was.
"""

from dataclasses import dataclass, replace
from itertools import pairwise
from math import hypot

from server.quantities.quantity import Quantity
from server.quantities.uncertainty import NORMAL_95
from server.readings import Confidence, Reading, Uncertainty, absent, doubtful

ENERGY = (
    Quantity(
        *("energy_wh", "W", "energy since the last start", "Wh", 3),
        *("active power times time, window after window; stands still at rest", "IEC 60050-131, energy (from memory)"),
        "voltage and current of the same conductor, and a run state",
    ),
    Quantity(
        *("charge_ah", "Q", "charge since the last start", "Ah", 4),
        *("mean current times time, window after window; stands still at rest", "IEC 60050-113, charge (from memory)"),
        "a current channel that passes direct current, and a run state",
    ),
)
_SOURCES = {"energy_wh": "active_power_w", "charge_ah": "current_mean_a"}
_RESTING, _STARTING, _UNKNOWN = "resting", "starting", "unknown"  # run states
_HOUR_S = 3600.0
_LOST_S = 1e-6  # less is rounding


@dataclass(frozen=True, slots=True)
class Sum:
    """Of one quantity since the last start. What limits leave open adds up as it is, scatter by its squares."""

    value: float = 0.0
    limits: float = 0.0
    scatter: float = 0.0
    missing_s: float = 0.0
    known: bool = True


@dataclass(frozen=True, slots=True)
class Energy:
    """Sums by key; `word`: the run state as it was last known; `started`: whether a start was seen; `unknown_s`: how
    long its state has not been known."""

    sums: tuple[tuple[str, Sum], ...] = ()
    word: str = ""
    started: bool = False
    unknown_s: float = 0.0


def energy_of(
    before: Energy, readings: list[Reading], words: tuple[str, ...], window_s: float, lost_s: float
) -> tuple[Energy, list[Reading]]:
    """The sums after a window with these readings and the run states of its rows, and what they say.

    `lost_s`: time in the window and before it of which no sample came. Readings without a place are the motor's own.
    """
    own = {each.key: each for each in readings if not each.place}
    keys = [key for key, source in _SOURCES.items() if source in own and (key != "charge_ah" or _is_direct(own))]
    told = [word for word in words if word != _UNKNOWN]
    word = told[-1] if told else before.word
    seen = any(one != _STARTING and other == _STARTING for one, other in pairwise([before.word, *told]))
    begins = seen or (before.word == _RESTING and word != _RESTING)
    started = before.started or begins
    sums = {} if begins else dict(before.sums)
    missing_s = (lost_s if lost_s > _LOST_S else 0.0) + (before.unknown_s if begins and not seen else 0.0)
    if started and not (before.word == word == _RESTING):
        for key in keys:
            sums[key] = _added(sums.get(key, Sum()), own[_SOURCES[key]], window_s, missing_s)
    unknown_s = 0.0 if told and not missing_s else before.unknown_s + window_s + lost_s if not told else lost_s
    return Energy(tuple(sums.items()), word, started, unknown_s), [_told(key, sums.get(key), started) for key in keys]


def _is_direct(own: dict[str, Reading]) -> bool:
    """A supply's alternating current carries no charge that anybody asks for."""
    return "frequency_hz" not in own and "current_frequency_hz" not in own


def _added(so_far: Sum, reading: Reading, window_s: float, lost_s: float) -> Sum:
    missing_s = so_far.missing_s + lost_s
    if not isinstance(reading.value, float):
        return replace(so_far, missing_s=missing_s + window_s)
    hours = window_s / _HOUR_S
    if reading.uncertainty is None:
        known, limits, scatter = False, 0.0, 0.0
    else:
        parts = [(source.startswith("noise"), standard) for source, standard in reading.uncertainty.parts]
        known = so_far.known
        limits = hypot(*[standard for is_noise, standard in parts if not is_noise])
        scatter = hypot(*[standard for is_noise, standard in parts if is_noise])
    return Sum(
        so_far.value + reading.value * hours,
        so_far.limits + limits * hours,
        hypot(so_far.scatter, scatter * hours),
        missing_s,
        known,
    )


def _told(key: str, so_far: Sum | None, started: bool) -> Reading:
    if so_far is None or not started:
        return absent(key, "no start has been seen yet")
    if so_far.missing_s:
        doubt = f"{so_far.missing_s:.1f} s since the start were not measured: at least this"
        return doubtful(Reading(key, so_far.value), doubt)
    if not so_far.known:
        return Reading(key, so_far.value, Confidence.GOOD)
    half = NORMAL_95 * hypot(so_far.limits, so_far.scatter)
    parts = (("limits of the channels", so_far.limits), ("noise", so_far.scatter))
    ends = so_far.value - half, so_far.value + half
    return Reading(key, so_far.value, uncertainty=Uncertainty(*ends, NORMAL_95, parts))
