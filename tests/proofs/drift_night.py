"""Is wear told in nights that the software board plays, byte by byte through the real readings, and nothing else?

Eight hours of the bilge pump, as the bench's story of a night has them, on a board that is switched on with the pump:
in each ten minutes it starts, is watched for a while and goes off with it. So the rests are not computed, in which
nothing can be told. Brushes wear out as in that story, or cost 2.2 % of the speed, or do not wear while the battery
empties and the strainer clogs. Battery and load scatter from round to round by seed, as in
`tests/server/alarms/nights.py`.
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
from simulator.bench import bench_board, bench_motor, with_stories
from simulator.motors.permanent_magnet_dc import BILGE_PUMP
from tests.server.alarms.aged_motors import worn_ohm
from tests.server.alarms.nights import LOAD, SUPPLY

MOTOR = "bilge_pump"
ROUNDS, ROUND_S, ON_S, STEP_S = 48, 600.0, 25.0, 0.5
FROM_UTC_S = 1_795_615_320.0
NIGHTS = {  # by their names: what brushes have lost at the end, by how much battery and load have changed
    "brushes wear out": (1.0, 0.0, 0.0),
    "2.2 % of the speed": (worn_ohm() / BILGE_PUMP.worn_ohm, 0.0, 0.0),
    "battery empties, strainer clogs": (0.0, -0.06, 0.2),
}


def stories(name: str, seed: int, rounds: int = ROUNDS) -> str:
    """A story for each round, by its number."""
    wear, emptier, more = NIGHTS[name]
    rng, part = np.random.default_rng([seed, len(name)]), np.arange(rounds) / rounds
    volts = 12.6 * (1.0 + emptier * part) * (1.0 + SUPPLY * rng.standard_normal(rounds))
    load = (1.0 + more * part) * (1.0 + LOAD * rng.standard_normal(rounds))
    lines = ["stories:"]
    for k in range(rounds):
        how = f"brush_wear: {wear * part[k]:.5f}, battery_v: {volts[k]:.4f}, load_factor: {load[k]:.5f}"
        lines += [f"- name: round {k}", "  says: pumps", f"  lasts_s: {ON_S + 1.0}", "  steps:"]
        lines += [f"  - {{at_s: 0.1, {how}}}", "  - {at_s: 1, supply_on: on}"]
    return "\n".join(lines) + "\n"


def outputs(name: str, seed: int, rounds: int = ROUNDS) -> Iterator[tuple[float, Output]]:
    """The time, and what one pipeline says of all rounds, push by push."""
    pipeline = Pipeline(RigSettings("night"))
    with TemporaryDirectory() as folder:
        file = Path(folder) / "night.yaml"
        file.write_text(stories(name, seed, rounds))
        motor = with_stories(bench_motor(MOTOR), file)
    for k in range(rounds):
        board = bench_board(motor, seed, story=f"round {k}", boot=k + 1)
        for step in range(round(ON_S / STEP_S)):
            now_s = FROM_UTC_S + ROUND_S * k + STEP_S * (step + 1)
            yield now_s, pipeline.push(board.step(STEP_S), now_s)


def main(state: Path, seed: int) -> int:
    """Print when the wear was told in each night; 0 if it was where there is wear, and nowhere else."""
    right = []
    for name, (wear, _, _) in NIGHTS.items():
        kept = state / f"{name.replace(' ', '_')}.json"
        if not kept.exists():
            kept.write_text(json.dumps(_told(name, seed)))
        told = json.loads(kept.read_text())
        words = f"told after {told[0][0]:.1f} h: {told[0][1]}" if told else "no wear told"
        print(f"{name:34}{words}", flush=True)
        right.append(bool(told) is (wear > 0.0))
    return 0 if all(right) else 1


def _told(name: str, seed: int) -> list[tuple[float, str]]:
    """After how many hours an alarm was raised, and its words."""
    told: list[Notice] = []
    now_s = FROM_UTC_S
    settings = RigSettings("night", alarms=(AlarmSettings("brush_wear"),))
    alarming = Alarming(settings, None, lambda: now_s, told.append)
    for at_s, output in outputs(name, seed):
        now_s = at_s
        alarming.take(output)
    if alarming.trouble:
        raise RuntimeError(alarming.trouble)
    return [((each.at_utc_s - FROM_UTC_S) / 3600.0, each.why) for each in told if each.kind is Told.RAISED]
