"""Is wear told in nights that the software board plays, byte by byte through the real readings, and nothing else?

Eight hours of the bilge pump, a minute in ten: the bench's own story of a night, in which its brushes wear out; brushes
that cost 2.2 % of the speed; and none, on a battery that empties while the strainer clogs. Battery and load of the last
two scatter from round to round by seed, as in `tests/server/alarms/nights.py`. A night takes a quarter of an hour.
"""

import json
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from server.alarming import Alarming
from server.alarms.notice import Notice, Told
from server.config import AlarmSettings, RigSettings
from server.pipeline import Output, Pipeline
from simulator.bench import BenchMotor, bench_board, bench_motor, with_stories
from simulator.motors.permanent_magnet_dc import BILGE_PUMP
from tests.server.alarms.aged_motors import worn_ohm
from tests.server.alarms.nights import LOAD, SUPPLY

MOTOR, BENCH_STORY = "bilge_pump", "a night"
HOURS, ROUND_S, STEP_S = 8.0, 600.0, 0.5
FROM_UTC_S = 1_795_615_320.0
NIGHTS = {  # by their names: the story, what brushes have lost at its end, and whether the wear must be told
    "the bench's night": (BENCH_STORY, 1.0, True),
    "2.2 % of the speed": ("drawn", worn_ohm() / BILGE_PUMP.worn_ohm, True),
    "no wear, battery and strainer": ("drawn", 0.0, False),
}


def drawn_story(rng: np.random.Generator, wear: float, hours: float = HOURS) -> str:
    """Rounds on a battery and a load that scatter; without wear the one falls by 6 % and the other grows by 20 %."""
    rounds = round(hours * 3600.0 / ROUND_S)
    late = np.arange(rounds) / rounds * (wear == 0.0)
    volts = 12.6 * (1.0 - 0.06 * late) * (1.0 + SUPPLY * rng.standard_normal(rounds))
    load = (1.0 + 0.2 * late) * (1.0 + LOAD * rng.standard_normal(rounds))
    lines = [
        "stories:",
        "- name: drawn",
        "  says: pumps for a minute in ten",
        f"  lasts_s: {hours * 3600.0}",
        "  steps:",
    ]
    lines.append(f"  - {{from_s: 1, to_s: {hours * 3600.0 - 100.0}, brush_wear: [0, {wear:.4f}]}}")
    for k in range(rounds):
        at_s = 2.0 + ROUND_S * k
        how = f"battery_v: {volts[k]:.4f}, load_factor: {load[k]:.5f}"
        lines.append(f"  - {{at_s: {at_s}, supply_on: on, jammed: off, {how}}}")
        lines += [f"  - {{at_s: {at_s + 60.0}, supply_on: off}}", f"  - {{at_s: {at_s + 64.0}, jammed: on}}"]
    return "\n".join(lines) + "\n"


def motor_of(name: str, seed: int, folder: Path, hours: float = HOURS) -> tuple[BenchMotor, str]:
    """The pump with the story of that night, and the story's name."""
    story, wear, _ = NIGHTS[name]
    if story == BENCH_STORY:
        return bench_motor(MOTOR), story
    file = folder / "night.yaml"
    file.write_text(drawn_story(np.random.default_rng([seed, len(name)]), wear, hours))
    return with_stories(bench_motor(MOTOR), file), story


def outputs(motor: BenchMotor, story: str, seed: int, seconds: float) -> Iterator[Output]:
    """What a pipeline of its own says, push by push."""
    board, pipeline = bench_board(motor, seed, story=story), Pipeline(RigSettings("night"))
    for k in range(round(seconds / STEP_S)):
        yield pipeline.push(board.step(STEP_S), FROM_UTC_S + STEP_S * (k + 1))


def main(state: Path, seed: int) -> int:
    """Print when the wear was told in each night; 0 if it was where there is wear, and nowhere else."""
    right = []
    for name, (_, _, wears) in NIGHTS.items():
        kept = state / f"{name.replace(' ', '_')}.json"
        if not kept.exists():
            kept.write_text(json.dumps(_told(name, seed)))
        told = json.loads(kept.read_text())
        words = f"after {told[0][0]:.1f} h: {told[0][1]}" if told else "no wear told"
        print(f"{name:32}{words}", flush=True)
        right.append(bool(told) is wears)
    return 0 if all(right) else 1


def _told(name: str, seed: int) -> list[tuple[float, str]]:
    """After how many hours an alarm was raised, and its words."""
    told: list[Notice] = []
    now_s = [FROM_UTC_S]
    settings = RigSettings("night", alarms=(AlarmSettings("brush_wear"),))
    alarming = Alarming(settings, None, lambda: now_s[0], told.append)
    with TemporaryDirectory() as folder:
        for output in outputs(*motor_of(name, seed, Path(folder)), seed, HOURS * 3600.0):
            now_s[0] += STEP_S
            alarming.take(output)
    if alarming.trouble:
        raise RuntimeError(alarming.trouble)
    return [((each.at_utc_s - FROM_UTC_S) / 3600.0, each.why) for each in told if each.kind is Told.RAISED]
