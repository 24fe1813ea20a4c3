"""Events of the tiny board, and blocks made by hand."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from firmware_protocol import Role
from server.config import Plate, RigSettings
from server.events import Block, Detector
from server.motors import motor_type
from server.pipeline import Pipeline
from server.readings import Event, Fast, StateChange
from server.samples import Channel, Samples
from tests.server.tiny_board import TinyBoard

Story = Sequence[tuple[float, float, float, float]]
PLATE = Plate(voltage_v=230.0, frequency_hz=50.0, current_a=0.5, speed_rpm=1400.0)


def events(story: Story, kind: str, board: TinyBoard | None = None) -> list[Event]:
    """What the pipeline says of a story, of one kind."""
    output = Pipeline(RigSettings("r")).push((board or TinyBoard()).wire(story), 0.0)
    return [each for each in output.events if each.kind == kind]


def channel(role: Role, place: str) -> Channel:
    unit = "V" if role is Role.VOLTAGE else "A"
    return Channel(0, role, f"{unit} {place}", place, unit, -400.0, 400.0, 0, 1000.0, noise_rms=0.001)


def block(
    number: int,
    volts: Sequence[float] | float = 230.0,
    amps: Sequence[float] | float = 0.5,
    rpm: Sequence[float] | float = 1400.0,
    state: str = "running",
    plate: Plate = PLATE,
    values: Any = None,
    channels: tuple[Channel, ...] = (channel(Role.VOLTAGE, "supply"), channel(Role.CURRENT, "line")),
) -> Block:
    """Window `number` of 200 ms in 20 rows; the samples are zeros where none are given."""
    count = 200
    samples = np.zeros((len(channels), count)) if values is None else np.asarray(values, dtype=float)
    missing = np.isnan(samples).any(axis=0)
    clipped = np.abs(samples) >= 400.0
    window = Samples(channels, count * number, 200_000 * number, 1000.0, 1e6, samples, missing, clipped)
    board_s = 0.2 * number + 0.01 * np.arange(1, 21)
    v, a, n = (np.broadcast_to(each, 20).astype(np.float64) for each in (volts, amps, rpm))
    fast = Fast(board_s.astype(np.float64), v, a, n)
    kind = motor_type("permanent_split_capacitor")
    return Block(window, 0, 1, fast, (state,) * 20, (), kind, plate)


def stepped(detector: Detector, blocks: Sequence[Block]) -> list[Event]:
    """What a detector says of blocks in turn; their run states change where they say so."""
    state, found, before = None, list[Event](), ""
    for each in blocks:
        if each.fast is not None and each.states[0] != before:
            told_s = float(each.fast.board_s[0])
            change = StateChange(told_s - 0.01, told_s, each.states[0])
            each, before = replace(each, fast=replace(each.fast, changes=(change,))), each.states[0]
        state, some = detector.step(state, each)
        found += some
    return found
