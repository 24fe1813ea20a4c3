"""All benchmarks at full length: the thing against its reference, goals of the speed table."""

import importlib
import json
from dataclasses import asdict
from pathlib import Path

from tests.benchmarks.pairs import Row

BENCHMARKS = (
    "port",
    "decoder",
    "window",
    "hub",
    "latency",
    "hall_latency",
    "paint",
    "boards",
    "board",
    "wiring",
    "edge_burst",
    "night_picture",
    "night_screen",
    "export",
    "packing",
    "recorder",
)
PAIRS = 9


def main(state: Path, seed: int) -> int:
    """Print one row a goal, as soon as it is known; 0 when every goal is met. What `state` keeps is not run again."""
    print(f"{'goal':6} {'what':70} {'ratio':>8} {'at most':>8}", flush=True)
    met = True
    for name in BENCHMARKS:
        for row in measured(name, state / f"{name}.json"):
            verdict = "" if row.met else "NOT MET"
            line = f"{row.goal:6} {row.what:70} {row.ratio:8.2f} {row.at_most:8.2f} {verdict} {row.note}".rstrip()
            print(line, flush=True)
            met = met and row.met
    return 0 if met else 1


def measured(name: str, kept: Path) -> list[Row]:
    """Rows of one benchmark, from the file of an earlier, interrupted run or measured now."""
    if kept.exists():
        return [Row(**row) for row in json.loads(kept.read_text())]
    rows: list[Row] = importlib.import_module(f"tests.benchmarks.{name}").measure(PAIRS)
    kept.write_text(json.dumps([asdict(row) for row in rows]))
    return rows
