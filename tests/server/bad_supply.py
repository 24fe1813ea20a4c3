"""Boards that play given waves, and the readings that come of their wire bytes."""

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from firmware_protocol import Role
from server.config import RigSettings
from server.pipeline import Output, Pipeline
from server.readings import Reading
from simulator.player import player_board
from simulator.recording import RecordedChannel, Recording

RATE_HZ = 20_000.0
SECONDS = 0.6
Floats = NDArray[np.float64]
Wave = Callable[[Floats], Floats]  # of times in seconds


def sine(rms: float, hertz: float = 50.0, behind_rad: float = 0.0) -> Wave:
    return lambda t: rms * np.sqrt(2.0) * np.sin(2.0 * np.pi * hertz * t - behind_rad)


def level(value: float) -> Wave:
    return lambda t: np.full_like(t, value)


def channel(place: str, wave: Wave, limit: float, seed: int, **said: Any) -> RecordedChannel:
    """A voltage of a limit of 30 and more, else a current, with a little noise and all limits stated."""
    t, draw = np.arange(round(RATE_HZ * SECONDS)) / RATE_HZ, np.random.default_rng(seed)
    is_voltage, noise = limit >= 30.0, 5e-5 * limit
    described = {
        "rate_hz": RATE_HZ,
        "noise_rms": noise,
        "gain_limit": 1e-3,
        "offset_limit": 1e-4 * limit,
        "delay_limit_s": 1e-7,
        **said,
    }
    name, role, unit = ("U", Role.VOLTAGE, "V") if is_voltage else ("I", Role.CURRENT, "A")
    values = wave(t) + draw.normal(0.0, noise, t.size)
    return RecordedChannel(f"{name} {place}", role, unit, -limit, limit, values, place=place, **described)


def played(motor: str, *channels: RecordedChannel, **said: Any) -> Output:
    """What is said of them."""
    return Pipeline(RigSettings("bench")).push(stream(motor, *channels, **said), 0.0)


def stream(motor: str, *channels: RecordedChannel, plate: str = "", cut: slice | None = None, **shaft: Any) -> bytes:
    """Their wire bytes; `cut`: a stretch of them that is lost, in parts of 1000. `shaft`: inputs and edges."""
    text = f'[motor]\nname = "m"\ntype = "{motor}"\n[motor.plate]\n{plate}'
    board = player_board(Recording("bad supply", list(channels), plate=text, **shaft))
    pieces = []
    while not board.ended:
        pieces.append(board.step(1.0))
    data = b"".join(pieces)
    if cut is not None:
        size = len(data) / 1000
        data = data[: round(cut.start * size)] + data[round(cut.stop * size) :]
    return data


def readings(output: Output, window: int = -1) -> dict[str, Reading]:
    """Of one window, the last by rule; every figure in it is one."""
    whole = [each for each in output.instants if any(reading.key == "run_state" for reading in each.readings)]
    found = {reading.id: reading for reading in whole[window].readings}
    for reading in found.values():
        assert not isinstance(reading.value, float) or np.isfinite(reading.value), reading
    return found
