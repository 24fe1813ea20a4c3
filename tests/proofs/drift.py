"""Is wear found, and nothing else? Nights of ten hours by the hundred, drawn from the equations of the bilge pump.

At most one false alarm in a hundred nights of scatter that is stationary, be it white, with a memory or of a pump that
runs now and then; and brush wear (speed -2.2 %, current -4 % in ten hours) found in 95 of a hundred. The statistics
alone are counted too: one reading, any change however small. `tests/server/alarms/nights.py` has the nights.
"""

import json
from pathlib import Path

import numpy as np

from server.alarms.ready import READY
from server.alarms.watched import BRUSHED, alone
from tests.server.alarms.nights import EMPTYING, STATIONARY, WORN, Kind, found_after_s, windows

NIGHTS = 100  # of each kind
LEAST = READY["brush_wear"].usual.least_percent or 0.0
FALSE_MAX, FOUND_MIN = 0.01, 0.95


def main(state: Path, seed: int, nights: int = NIGHTS) -> int:
    """Print a row for each kind of night; 0 if all is as promised. What an interrupted run did is kept."""
    print(f"{'nights of ten hours':42}{'nights':>8}{'brush wear':>12}{'one reading':>13}{'found after, h':>16}")
    false = alone_false = stationary = found = worn = 0
    for kind in (*STATIONARY, EMPTYING, *WORN):
        told, single = _told(state / f"{kind.name.replace(' ', '_')}.json", kind, seed, nights)
        late = [each / 3600.0 for each in told if each is not None]
        hours = f"{np.median(late):.1f} to {max(late):.1f}" if late else ""
        drifts = kind.falls or kind.wear  # then one reading alone is right to have moved
        print(f"{kind.name:42}{nights:8}{len(late):12}{'' if drifts else len(single):>13}{hours:>16}", flush=True)
        if kind.wear:
            found, worn = found + len(late), worn + nights
        else:
            false, stationary = false + len(late), stationary + nights
            alone_false += 0 if drifts else len(single)
    rate, alone_rate = false / stationary, alone_false / (stationary - nights)
    print(f"false alarms a night {rate:.4f}, of one reading alone {alone_rate:.4f}; wear found in {found / worn:.3f}")
    return 0 if rate <= FALSE_MAX and alone_rate <= FALSE_MAX and found / worn >= FOUND_MIN else 1


def _told(kept: Path, kind: Kind, seed: int, nights: int) -> tuple[list[float | None], list[float]]:
    """When brush wear was told in each night, and when one reading alone was said to have moved."""
    done: list[list[float | None]] = json.loads(kept.read_text()) if kept.exists() else []
    for number in range(len(done), nights):
        night = list(windows(kind, np.random.default_rng([seed, number, len(kind.name)])))
        single = found_after_s(night, (alone("current_mean_a"),), 0.0)
        done.append([found_after_s(night, BRUSHED, LEAST), single])
        kept.write_text(json.dumps(done))
    return [each[0] for each in done[:nights]], [each[1] for each in done[:nights] if each[1] is not None]
