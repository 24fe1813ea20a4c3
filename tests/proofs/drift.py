"""Is ageing found, and nothing else? Nights of ten hours by the hundred, by the equations of the bench's motors.

At most one false alarm in a hundred nights of stationary scatter, be it white, with a memory or of a motor that runs
now and then, and as few in nights in which supply, load or room shift; ageing found in 95 of a hundred: brushes (speed
-2.2 %, current -4 % in ten hours), run capacitors, bearings by coasting, cooling by temperature. The statistics alone
are counted too: one reading, any change however small. `tests/server/alarms/aged_motors.py` says how each ages.
"""

import json
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from server.alarms.watched import alone
from tests.server.alarms.aged_motors import ALL, Aged, worn_windows
from tests.server.alarms.nights import NOW_AND_THEN, STATIONARY, Kind, found_after_s

NIGHTS, OF_AGEING = 100, 200  # of each kind; of all kinds of one ageing together
FALSE_MAX, FOUND_MIN = 0.01, 0.95


def main(state: Path, seed: int, nights: int = NIGHTS, of_ageing: int = OF_AGEING, ages: Sequence[Aged] = ALL) -> int:
    """Print a row for each kind of night; 0 if all is as promised. What an interrupted run did is kept."""
    print(f"{'what ages':26}{'nights of ten hours':42}{'nights':>8}{'told':>6}{'after, h':>12}")
    kept = [_ages(state, its, seed, nights, of_ageing) for its in ages]
    single = Aged("one reading alone", STATIONARY + NOW_AND_THEN, (), (), _single)
    return 0 if all([*kept, _ages(state, single, seed, nights, of_ageing)]) else 1


def _ages(state: Path, its: Aged, seed: int, nights: int, of_ageing: int) -> bool:
    """Whether it is told where it ages, and nowhere else."""
    still = [_told(state, its, kind, seed, nights) for kind in its.stationary]
    moved = [_told(state, its, kind, seed, nights) for kind in its.shifts]
    aged = [_told(state, its, kind, seed, of_ageing // len(its.aged)) for kind in its.aged]
    false, shifted = sum(still) / (nights * len(still)), sum(moved) / (nights * len(moved) or 1)
    found = sum(aged) / of_ageing if aged else 1.0
    words = f"{its.name}: false alarms a night {false:.4f} of scatter"
    words += f", {shifted:.4f} of shifts; found in {found:.3f}" if aged else ""
    print(f"{words}\n", flush=True)
    return false <= FALSE_MAX and shifted <= FALSE_MAX and found >= FOUND_MIN


def _told(state: Path, its: Aged, kind: Kind, seed: int, nights: int) -> int:
    """In how many of so many nights it was told."""
    kept = state / f"{its.name} {kind.name}.json".replace(" ", "_")
    done: list[float | None] = json.loads(kept.read_text()) if kept.exists() else []
    for number in range(len(done), nights):
        done.append(its.found_s(kind, np.random.default_rng([seed, number, len(kind.name)])))
        kept.write_text(json.dumps(done))
    late = [each / 3600.0 for each in done[:nights] if each is not None]
    hours = f"{np.median(late):.1f} to {max(late):.1f}" if late else ""
    print(f"{its.name:26}{kind.name:42}{nights:8}{len(late):6}{hours:>12}", flush=True)
    return len(late)


def _single(kind: Kind, rng: np.random.Generator) -> float | None:
    return found_after_s(worn_windows(kind, rng), (alone("current_mean_a"),), 0.0)
