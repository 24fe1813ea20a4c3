"""Software boards of the bench that are connected wrongly, and what the service says of them from their bytes."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray

from firmware_protocol import ChannelDescription
from server.config import RigSettings
from server.connection import Correctness, Finding
from server.pipeline import Pipeline
from server.readings import Reading
from simulator.bench import BenchMotor, bench_motor, bench_source
from simulator.board import Board
from simulator.source import BoardSource, Stretch

_STEP_S = 0.5
Change = Callable[[NDArray[np.float64]], NDArray[np.float64]]  # of a channel's values


class _Changed:
    """A source whose channels see something else."""

    def __init__(self, source: Any, changes: Mapping[int, Change]) -> None:
        self._source, self._changes = source, changes

    def __getattr__(self, name: str) -> Any:
        return getattr(self._source, name)

    def advance(self, first_tick: int, end_tick: int) -> Stretch:
        stretch: Stretch = self._source.advance(first_tick, end_tick)
        (values,) = stretch.groups
        for channel, change in self._changes.items():
            values[channel] = change(values[channel])
        return stretch


@dataclass(frozen=True)
class Told:
    """What is told at the end, all readings of the last window, and the active power of every window."""

    findings: tuple[Finding, ...]
    readings: dict[str, Reading]
    watts: tuple[float, ...]

    def finding(self, key: str, sensor: str = "", place: str = "") -> Finding:
        return next(each for each in self.findings if each.id == (key, sensor, place))

    def wrong(self) -> set[tuple[str, str]]:
        """Key and place of all that is wrong."""
        return {(each.key, each.place) for each in self.findings if each.verdict is Correctness.WRONG}


def told(motor: BenchMotor, seconds: float, story: str = "start and load", **changes: Change) -> Told:
    """A story from its beginning. `changes`: by channel name, its blanks as underscores."""
    index = {channel.name.replace(" ", "_"): channel.index for channel in motor.channels}
    source = bench_source(motor, story=story)
    changed = _Changed(source, {index[name]: change for name, change in changes.items()})
    board, pipeline = Board(cast(BoardSource, changed)), Pipeline(RigSettings("r"))
    outputs = [pipeline.push(board.step(_STEP_S), 0.0) for _ in range(round(seconds / _STEP_S))]
    findings = [output.findings for output in outputs if output.findings is not None]
    instants = [
        each for output in outputs for each in output.instants if any(r.key == "run_state" for r in each.readings)
    ]
    powers = [reading.value for each in instants for reading in each.readings if reading.id == "active_power_w"]
    watts = tuple(power for power in powers if isinstance(power, float))
    return Told(findings[-1], {reading.id: reading for reading in instants[-1].readings}, watts)


@lru_cache(maxsize=8)
def told_right(key: str, seconds: float, story: str = "start and load") -> Told:
    """The same of a board that is connected as it should be."""
    return told(bench_motor(key), seconds, story)


def turned(values: NDArray[np.float64]) -> NDArray[np.float64]:
    return -values


def seeing(key: str, **signals: str) -> BenchMotor:
    """The motor with channels (by name, blanks as underscores) that see other signals of the model."""
    motor = bench_motor(key)
    names = [channel.name.replace(" ", "_") for channel in motor.channels]
    assert set(signals) <= set(names)
    seen = tuple(signals.get(name, signal) for name, signal in zip(names, motor.signals, strict=True))
    return replace(motor, signals=seen)


def described(motor: BenchMotor, name: str, **said: Any) -> BenchMotor:
    """The motor with one channel described otherwise."""
    channels: list[ChannelDescription] = [
        replace(channel, **said) if channel.name == name else channel for channel in motor.channels
    ]
    return replace(motor, channels=tuple(channels))
