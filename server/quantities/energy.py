"""Energy and charge since the motor last started: the sum of window after window. Pure; the caller keeps the sum.

It begins anew when the motor starts, and stands still while it coasts or rests: what is measured then is noise, and
where an edge is lost nobody knows which of the two it was. Time of which nothing is known is not made up: it is said
how long it was.
"""

from dataclasses import dataclass, replace
from itertools import pairwise
from math import hypot, sqrt

from server.quantities.quantity import Quantity
from server.quantities.reasons import joined
from server.quantities.uncertainty import NORMAL_95
from server.readings import Reading, Uncertainty, absent, doubtful

ENERGY = (
    Quantity(
        *("energy_wh", "W", "energy since the last start", "Wh", 3),
        *(
            "active power times time, window after window; stands still while it coasts or rests",
            "IEC 60050-131, energy (from memory)",
        ),
        "voltage and current of the same conductor, and a run state",
    ),
    Quantity(
        *("charge_ah", "Q", "charge since the last start", "Ah", 4),
        *(
            "mean current times time, window after window; stands still while it coasts or rests",
            "IEC 60050-113, charge (from memory)",
        ),
        "a current channel that passes direct current, and a run state",
    ),
)
_SOURCES = {"energy_wh": "active_power_w", "charge_ah": "current_mean_a"}
_RESTING, _STARTING, _UNKNOWN = "resting", "starting", "unknown"  # run states
_IDLE = {"coasting", _RESTING}  # those without supply
_UP = {_STARTING, "running"}
_UNSURE = "the stream began or was broken, and perhaps a start was missed there"
_HOUR_S = 3600.0
_LOST_S = 1e-6  # less is rounding


@dataclass(frozen=True, slots=True)
class Sum:
    """Of one quantity since the last start. What limits leave open adds up as it is, scatter by its squares.

    `missing_s`: time that was not measured; `doubt`: the first reason to doubt what was, or empty; `known`: whether all
    of it had an uncertainty.
    """

    value: float = 0.0
    limits: float = 0.0
    scatter: float = 0.0
    missing_s: float = 0.0
    doubt: str = ""
    known: bool = True


@dataclass(frozen=True, slots=True)
class Energy:
    """Sums by key; `word`: the run state as it was last known; `started`: whether a start was seen; `unknown_s`: how
    long its state has not been known; `confirmed`: nothing was lost on the way to it; `moved`: since that is so no
    more a start was told, perhaps later than it was."""

    sums: tuple[tuple[str, Sum], ...] = ()
    word: str = ""
    started: bool = False
    unknown_s: float = 0.0
    confirmed: bool = True
    moved: bool = False


@dataclass(frozen=True, slots=True)
class Stretch:
    """A window and the time before it of which nothing came, in seconds; `come_s`: of the window; `clock`: relative
    standard uncertainty of the board's seconds, 0 where nobody says."""

    gap_s: float
    window_s: float
    come_s: float
    clock: float = 0.0


def energy_of(
    before: Energy,
    readings: list[Reading],
    words: tuple[str, ...],
    time: Stretch,
    doubt: str = "",
    confirmed: bool = True,
) -> tuple[Energy, list[Reading]]:
    """The sums after a window with these readings and the run states of its rows, and what they say.

    Readings without a place are the motor's own. They are those of the window itself: that the supply was switched in
    it makes a power that of no moment, and its energy is right all the same. `doubt`: why to doubt powers otherwise.
    `confirmed`: nothing was lost on the way to the run states.
    """
    own = {each.key: each for each in readings if not each.place}
    keys = [key for key, source in _SOURCES.items() if source in own and (key != "charge_ah" or _is_direct(own))]
    told = [word for word in words if word != _UNKNOWN]
    word = told[-1] if told else before.word
    steps = list(pairwise([before.word, *told]))
    seen = any(one != _STARTING and other == _STARTING for one, other in steps)
    idle = not seen and {before.word, word} <= _IDLE
    wakes = before.word in _IDLE and not idle
    begins = seen or (wakes and before.word == _RESTING)
    sums = {} if begins else dict(before.sums)
    started, missing_s = before.started or begins, time.gap_s
    if wakes and not seen:
        missing_s += before.unknown_s
    if started and not idle:
        for key in keys:
            sums[key] = _added(sums.get(key, Sum()), own[_SOURCES[key]], time, missing_s, doubt)
    moved = _moved(before, steps, confirmed)
    if moved and confirmed:  # until the next start
        sums = {key: replace(its, doubt=joined(its.doubt, _UNSURE)) for key, its in sums.items()}
    unknown_s = 0.0 if told else before.unknown_s + time.gap_s + time.window_s
    after = Energy(tuple(sums.items()), word, started, unknown_s, confirmed, moved and not confirmed)
    return after, [_told(key, sums.get(key), started, "" if confirmed else _UNSURE) for key in keys]


def _moved(before: Energy, steps: list[tuple[str, str]], confirmed: bool) -> bool:
    """Whether a start was told, perhaps later than it was, and no other since: what led to the first state of a window
    that is confirmed again is not."""
    if before.confirmed and confirmed:
        return False
    if confirmed and any(other == _STARTING != one for one, other in steps[1:]):
        return False
    unsure = steps[:1] if confirmed else steps
    return before.moved or any(one not in _UP and other in _UP for one, other in unsure)


def _is_direct(own: dict[str, Reading]) -> bool:
    """A supply's alternating current carries no charge that anybody asks for."""
    return "frequency_hz" not in own and "current_frequency_hz" not in own


def _added(so_far: Sum, reading: Reading, time: Stretch, missing_s: float, doubt: str) -> Sum:
    missing_s += so_far.missing_s
    if not isinstance(reading.value, float):
        return replace(so_far, missing_s=missing_s + time.window_s)
    lost_s = time.window_s - time.come_s
    own_doubt = doubt or (reading.reason if lost_s < _LOST_S else "")
    hours, sure = time.come_s / _HOUR_S, reading.uncertainty
    whole, scatter = (0.0, 0.0) if sure is None else (hypot(*[each for _, each in sure.parts]), sure.scatter)
    limits = hypot(sqrt(max(whole * whole - scatter * scatter, 0.0)), reading.value * time.clock)
    return Sum(
        so_far.value + reading.value * hours,
        so_far.limits + limits * hours,
        hypot(so_far.scatter, scatter * hours),
        missing_s + (lost_s if lost_s > _LOST_S else 0.0),
        so_far.doubt or own_doubt,
        so_far.known and sure is not None,
    )


def _told(key: str, so_far: Sum | None, started: bool, unsure: str) -> Reading:
    if so_far is None or not started:
        return absent(key, "no start has been seen yet")
    lost = f"{_seconds(so_far.missing_s)} since the start were not measured and are not in it"
    missing = lost if so_far.missing_s else ""
    if doubt := joined(missing, so_far.doubt, unsure):
        return doubtful(Reading(key, so_far.value), doubt)
    if not so_far.known:
        return Reading(key, so_far.value)
    half = NORMAL_95 * hypot(so_far.limits, so_far.scatter)
    parts = (("limits of the channels", so_far.limits), ("noise", so_far.scatter))
    ends = so_far.value - half, so_far.value + half
    return Reading(key, so_far.value, uncertainty=Uncertainty(*ends, NORMAL_95, parts))


def _seconds(length_s: float) -> str:
    return f"{length_s:.1f} s" if length_s >= 1.0 else f"{max(length_s, 1e-3):.2g} s"
