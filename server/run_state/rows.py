"""A window and the edges round it -> rows of 10 ms: for the strip since the start, and for the run state. Pure."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from firmware_protocol import Role, SampleKind
from server.config import Plate
from server.hall import speed_rows
from server.hall.inputs import edges_per_turn
from server.motors import MotorType, Supply
from server.readings import Fast
from server.run_state.row import ROW_S, Row
from server.samples import Channel, EdgeTrain, Samples

ROW_SAMPLES_MIN = 10  # fewer say nothing of a half cycle


@dataclass(frozen=True, slots=True)
class Wanted:
    """Which channels of a group make rows, by their place in it; empty or None where there is none."""

    voltage: int | None
    current: int | None
    phases: tuple[int, ...]

    @property
    def state_current(self) -> int | None:
        """A channel that stands for the current the run state is judged by."""
        return self.phases[0] if self.phases else self.current


def wanted_of(channels: tuple[Channel, ...], motor: MotorType | None) -> Wanted:
    """The motor's main voltage and current, else the first of each; all phase currents where there are some."""
    places = {place.casefold() for place in motor.phases} if motor else set()
    phases = (k for k, each in enumerate(channels) if each.role is Role.CURRENT and each.place.casefold() in places)
    return Wanted(
        voltage=_main(channels, Role.VOLTAGE, motor.voltage_place if motor else ""),
        current=_main(channels, Role.CURRENT, motor.current_place if motor else ""),
        phases=tuple(phases),
    )


def _main(channels: tuple[Channel, ...], role: Role, place: str) -> int | None:
    its = [k for k, each in enumerate(channels) if each.role is role]
    return next((k for k in its if channels[k].place.casefold() == place.casefold()), its[0] if its else None)


def rows_of(
    window: Samples,
    train: EdgeTrain | None,
    motor: MotorType | None,
    plate: Plate,
    wanted: Wanted,
    stopped_rpm: float,
) -> tuple[Fast, Callable[[], list[Row]]] | None:
    """The rows of a window, the last one ending with it; None where it is sampled too slowly for any.

    The rows of the run state are made when they are asked for.
    """
    count = round(window.count / (window.rate_hz * ROW_S))
    if count < 1 or window.count < count * ROW_SAMPLES_MIN:
        return None
    bounds, offsets = _bounds(count, window.count, window.ticks_per_sample)
    ends = window.first_tick + offsets
    direct = motor is not None and motor.supply is Supply.DIRECT
    nothing = np.full(count, np.nan)
    volts = nothing if wanted.voltage is None else _level(window, wanted.voltage, bounds, direct)
    amps = nothing if wanted.current is None else _level(window, wanted.current, bounds, direct)
    drawn = amps
    if wanted.phases:  # one of two that are measured always carries what a drive's pair, or two lines of three, carry
        drawn = np.maximum.reduce([_level(window, k, bounds, False) for k in wanted.phases])
    shaft = _shaft(train, ends, plate, bounds[1] * window.ticks_per_sample, stopped_rpm)
    fast = Fast(ends / window.tick_hz, volts, amps, shaft.rpm)
    return fast, lambda: _rows(drawn, None if wanted.voltage is None else volts, shaft)


@lru_cache(maxsize=16)
def _bounds(rows: int, samples: int, ticks_per_sample: float) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Where each row begins, and how many ticks behind the window's first sample each ends."""
    bounds = np.arange(rows + 1) * samples // rows
    return bounds, np.rint(bounds[1:] * ticks_per_sample).astype(np.int64)


def _level(window: Samples, k: int, bounds: NDArray[np.int64], mean: bool) -> NDArray[np.float64]:
    """RMS of each row of channel k, or the mean of its magnitude; a channel that is already either is only averaged."""
    values, rows = window.values[k], bounds.shape[0] - 1
    direct = mean or window.channels[k].kind is not SampleKind.INSTANTANEOUS
    level: NDArray[np.float64]
    if window.count % rows == 0:
        table = values.reshape(rows, -1)
        level = np.abs(table).mean(axis=1) if direct else np.vecdot(table, table) * rows / window.count
    else:
        level = np.add.reduceat(np.abs(values) if direct else np.square(values), bounds[:-1]) / np.diff(bounds)
    return level if direct else np.sqrt(level)


@dataclass(frozen=True, slots=True)
class _Shaft:
    rpm: NDArray[np.float64]
    bound_rpm: NDArray[np.float64] | None
    edges: NDArray[np.int64]
    whole: NDArray[np.bool_]
    sure: NDArray[np.bool_]


def _shaft(
    train: EdgeTrain | None, ends: NDArray[np.int64], plate: Plate, row_ticks: float, stopped_rpm: float
) -> _Shaft:
    nothing = np.full(ends.shape[0], np.nan)
    per_turn = 0 if train is None else edges_per_turn(train.inputs, plate)
    if train is None or not per_turn:
        always = np.ones(ends.shape[0], np.bool_)
        return _Shaft(nothing, None, np.zeros(ends.shape[0], np.int64), always, always)
    one_s_rpm = 60.0 / per_turn
    rpm = speed_rows(train, ends, plate)
    at = train.ticks.searchsorted(ends, side="right")
    since = np.concatenate(([train.known_from_tick], train.ticks))[at]
    by_edge = at > 0
    edges = np.diff(at, prepend=train.ticks.searchsorted(ends[0] - row_ticks, side="right"))
    whole = ends <= train.known_to_tick
    for lost_from, lost_to in train.uncertain:
        whole &= (ends <= lost_from) | (ends - row_ticks >= lost_to)
        later = (ends >= lost_to) & (since <= lost_to)  # the last edge may have been among those that were lost
        since, by_edge = np.where(later, lost_to, since), by_edge & ~later
    bound = one_s_rpm * train.tick_hz / np.maximum(ends - since, 1)
    return _Shaft(rpm, bound, edges, whole, by_edge | (bound < stopped_rpm))


def _rows(amps: NDArray[np.float64], volts: NDArray[np.float64] | None, shaft: _Shaft) -> list[Row]:
    whole = shaft.whole & ~np.isnan(amps)
    if volts is not None:
        whole &= ~np.isnan(volts)
    count = amps.shape[0]
    v: list[float] | list[None] = [None] * count if volts is None else volts.tolist()
    b: list[float] | list[None] = [None] * count if shaft.bound_rpm is None else shaft.bound_rpm.tolist()
    rpm, edges = shaft.rpm.tolist(), shaft.edges.tolist()
    columns = zip(amps.tolist(), v, rpm, b, edges, whole.tolist(), shaft.sure.tolist(), strict=True)
    return [Row(*column) for column in columns]
