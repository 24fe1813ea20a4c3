"""What befalls a night, drawn by seed: when, what, for how long. And the motor that runs through it."""

from dataclasses import dataclass
from pathlib import Path
from random import Random

from simulator.bench import bench_motor, with_stories
from simulator.bench.motor import BenchMotor

MOTOR, STORY = "bench_grinder", "night"
CYCLE_S = 900.0  # the motor runs for most of it, and rests for less than would close the run
ON_S, OFF_S = 5.0, 800.0
CALM_S = 15.0  # so far from switching the state that was known last is certain
LONGEST_S = 300.0  # of a cable that is out
APART_S = 12.0  # bench time between two happenings, beside what they last
SHORTEST_S = 3.0
BURST, BURST_S, BURST_EVERY_S = 4, 20.0, 90.0  # a loose plug: so often, for so long, so far apart
_STORIES = f"""\
stories:
- name: {STORY}
  says: grinds under changing load and is switched off for a short rest, over and over
  lasts_s: {CYCLE_S:g}
  steps:
  - {{at_s: {ON_S:g}, supply_on: on, load_torque_n_m: 0.1}}
  - from_s: 60
    every_s: 120
    times: 6
    steps:
    - {{at_s: 0, load_torque_n_m: 0.8}}
    - {{at_s: 60, load_torque_n_m: 0.1}}
  - {{at_s: {OFF_S:g}, supply_on: off, load_torque_n_m: 1.5}}
"""


@dataclass(frozen=True, slots=True)
class Happening:
    """`at_s` of bench time at the earliest; `lasts_s`: until it is mended. `mid_frame`: the wire was cut in a frame."""

    kind: str
    at_s: float
    lasts_s: float = 0.0
    mid_frame: bool = False


def motor(folder: Path) -> BenchMotor:
    """The bench's motor with the night's story; the file is written into the folder."""
    file = folder / "night.yaml"
    file.write_text(_STORIES)
    return with_stories(bench_motor(MOTOR), file)


def runs(phase_s: float) -> bool | None:
    """Whether the motor is known to run so long after its story began; None too near to where it is switched."""
    phase_s %= CYCLE_S
    if ON_S + CALM_S <= phase_s <= OFF_S - CALM_S:
        return True
    return False if OFF_S + CALM_S <= phase_s <= CYCLE_S - CALM_S else None


def plan(seed: int, hours: float) -> list[Happening]:
    """In the order of time. Service and clock have their places; what befalls cable and board is drawn."""
    draw, whole_s = Random(seed), 3600.0 * hours
    longest_s = min(LONGEST_S, max(2 * SHORTEST_S, whole_s / 60))
    kinds = ["pull"] * max(2, round(2.5 * hours)) + ["reset"] * max(1, round(hours / 2))
    kinds += ["unplug"] * max(1, round(hours / 2)) + ["damage"] * max(1, round(hours / 6))
    kinds += ["burst"] * (hours >= 1)
    draw.shuffle(kinds)
    made = [
        Happening("restart", 0.07 * whole_s, SHORTEST_S + min(60.0, longest_s) * draw.random()),
        Happening("kill", 0.13 * whole_s, SHORTEST_S * (1.0 + draw.random())),
        Happening("clock", 0.47 * whole_s),
    ]
    slot_s = 0.94 * whole_s / len(kinds)
    for k, kind in enumerate(kinds):
        at_s = 0.03 * whole_s + slot_s * (k + draw.uniform(0.1, 0.6))
        lasts_s = SHORTEST_S * (longest_s / SHORTEST_S) ** draw.random()
        if kind == "damage":
            lasts_s = min(1200.0, slot_s)
        if kind == "burst":
            made += [Happening("pull", at_s + n * BURST_EVERY_S, BURST_S, n % 2 == 0) for n in range(BURST)]
        else:
            made.append(Happening(kind, at_s, lasts_s, draw.random() < 0.5))
    return sorted(made, key=lambda each: each.at_s)
