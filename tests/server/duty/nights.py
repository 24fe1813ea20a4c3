"""Nights of the demo bench: a motor that is started and stopped again and again, what was told, and what was true."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from server.config import RigSettings
from server.duty import Cycle
from server.pipeline import Pipeline
from simulator.bench import bench_board, bench_motor, story_of, with_stories
from simulator.source import TruthRow

MOTOR = "air_compressor"  # its piston stops it within 1.5 s
FIRST_S, STEP_S = 2.0, 0.5
_STORY = """\
stories:
- name: duty
  says: is started and stopped again and again against a load
  lasts_s: {lasts_s}
  steps:
  - {{at_s: 0.5, load_torque_n_m: {load_n_m}}}
  - {{from_s: 1, to_s: {grown_s}, load_torque_n_m: [{load_n_m}, {last_n_m}]}}
  - from_s: 2
    every_s: {period_s}
    times: {times}
    steps:
    - {{at_s: 0, supply_on: on}}
    - {{at_s: {on_s}, supply_on: off}}
"""


@dataclass(frozen=True)
class Night:
    """So many starts, `on_s` of each `period_s`; the load goes from one torque to the other."""

    times: int
    on_s: float
    period_s: float
    load_n_m: float = 3.0
    last_n_m: float = 3.0
    lost_s: tuple[tuple[float, float], ...] = ()  # what the wire loses: from, to, by the time at which it is sent

    @property
    def lasts_s(self) -> float:
        return FIRST_S + self.times * self.period_s


@dataclass(frozen=True)
class TrueCycle:
    """Board times of the model's own states, and of 95 % of the speed at the end of the on-time."""

    start_s: float
    off_s: float
    rest_s: float
    t95_s: float


@dataclass(frozen=True)
class Told:
    cycles: list[Cycle]
    truth: list[TrueCycle]
    lasted_s: float


def told(night: Night, folder: Path, seed: int = 0) -> Told:
    """A night through a board and a pipeline of its own; a story's file is written into the folder."""
    file = folder / "duty.yaml"
    figures = {key: getattr(night, key) for key in ("times", "on_s", "period_s", "load_n_m", "last_n_m", "lasts_s")}
    file.write_text(_STORY.format(**figures, grown_s=night.lasts_s - 1.0))
    motor = with_stories(bench_motor(MOTOR), file)
    assert story_of(motor, "duty").duration_s == night.lasts_s
    board, pipeline = bench_board(motor, seed, story="duty", truth=True), Pipeline(RigSettings("night"))
    cycles: list[Cycle] = []
    rows: list[TruthRow] = []
    for number in range(round(night.lasts_s / STEP_S)):
        sent, at_s = board.step(STEP_S), number * STEP_S
        rows += board.take_truth()
        for begin, end in night.lost_s:
            if begin <= at_s < end:
                sent = b""
        cycles += [cycle for part in pipeline.push(sent, 0.0).parts for cycle in part.cycles]
    last = pipeline.cycle_under_way()
    return Told([*cycles, last] if last else cycles, true_cycles(rows), night.lasts_s)


def true_cycles(rows: Sequence[TruthRow]) -> list[TrueCycle]:
    """Of the states that the model took from shaft and contacts, and of its speed."""
    states = [(row.board_s, str(row.values["state"])) for row in rows if row.kind == "state"]
    series = [(row.board_s, float(str(row.values["speed_rpm"]))) for row in rows if row.kind == "series"]
    at, rpm = np.array(series).T
    found = []
    for k, (start_s, state) in enumerate(states):
        if state != "starting" or (k and states[k - 1][1] not in ("resting", "coasting")):
            continue
        later = [(when, what) for when, what in states[k:] if what in ("coasting", "resting")]
        off_s = later[0][0] if later else float("nan")
        rest_s = next((when for when, what in later if what == "resting"), float("nan"))
        on = (at >= start_s) & (at < off_s)
        final_rpm = rpm[on][-50:].mean()
        found.append(TrueCycle(start_s, off_s, rest_s, float(at[on][np.argmax(rpm[on] >= 0.95 * final_rpm)])))
    return found


def within(cycle: Cycle, key: str, true: float) -> bool | None:
    """Whether the interval of a figure holds the true value; None: it has no value or no interval."""
    figure = cycle.figures[key]
    if figure.value is None or figure.half is None:
        return None
    return abs(figure.value - true) <= figure.half
