"""A night of 500 cycles at the demo bench: counts equal the truth, figures hold it, and gaps are never silent.

Ten runs of 50 cycles, counted together as a test plan does: with short and long on-times, long rests, a load that
grows, and runs of which the wire loses pieces.
"""

import json
import tempfile
from pathlib import Path
from typing import Any

import numpy as np

from server.duty.drift import drift_of
from server.duty.factor import usage_of
from tests.server.duty.nights import Night, Told, told, within

CYCLES = 50
_DRIFTS = ("starting_time_s", "inrush_half_cycle_a", "steady_current_a", "steady_speed_rpm", "energy_wh")
_COVERED = 0.9  # of the cycles; times are given to whole rows of 10 ms, so intervals are of limits, not of scatter


def runs(seed: int) -> dict[str, Night]:
    """By name, in the order in which they follow one another."""
    draw = np.random.default_rng((seed, 71))
    at = [float(each) for each in np.sort(draw.choice(np.arange(10, 300, 20), 12, replace=False))]
    return {
        "short": Night(CYCLES, 2.0, 6.0),
        "light": Night(CYCLES, 3.0, 7.0, 1.5, 1.5),
        "long": Night(CYCLES, 5.0, 8.0),
        "half": Night(CYCLES, 4.0, 8.0),
        "rests": Night(CYCLES, 3.0, 18.0),
        "loaded": Night(CYCLES, 4.0, 7.0, 4.5, 4.5),
        "grows": Night(CYCLES, 4.0, 7.0, 2.0, 4.0),
        "again": Night(CYCLES, 3.0, 7.0),
        "lost 1": Night(CYCLES, 3.0, 7.0, lost_s=tuple((each, each + 1.0) for each in at[::2])),
        "lost 9": Night(CYCLES, 3.0, 7.0, lost_s=tuple((each, each + 9.0) for each in at[1::2])),  # whole cycles
    }


def judged(night: Night, it: Told) -> dict[str, Any]:
    """What was counted and what was true, and how often intervals held the truth."""
    held: dict[str, list[bool]] = {}
    clean = [each for each in it.cycles if each.is_start and not each.hidden_s]
    for cycle in clean:
        true = min(it.truth, key=lambda each: abs(each.start_s - cycle.start_s))
        truths = {
            "starting_time_s": true.t95_s - true.start_s,
            "on_time_s": true.off_s - true.start_s,
            "coasting_time_s": true.rest_s - true.off_s,
        }
        for key, value in truths.items():
            if (holds := within(cycle, key, value)) is not None:
                held.setdefault(key, []).append(holds)
    usage = usage_of(it.cycles)
    drifts = {}
    for key in _DRIFTS:
        points = [(each.number, each.value(key)) for each in clean]
        known = [(number, value) for number, value in points if value is not None]
        found = drift_of(*zip(*known, strict=True)) if len(known) > 1 else None
        drifts[key] = bool(found and found.significant)
    return {
        "starts": sum(each.is_start for each in it.cycles),
        "true": len(it.truth),
        "hidden_s": sum(each.hidden_s for each in it.cycles),
        "held": {key: [sum(its), len(its)] for key, its in held.items()},
        "factor": [usage.duration_factor.value, 100.0 * true_factor(it), usage.duration_factor.half, usage.whole],
        "per_hour": [usage.starts_per_hour.value, 3600.0 / night.period_s],
        "drifts": [key for key, is_so in drifts.items() if is_so],
    }


def true_factor(it: Told) -> float:
    """Share of the time from the first start to the last one."""
    on_s = sum(each.off_s - each.start_s for each in it.truth[:-1])
    return on_s / (it.truth[-1].start_s - it.truth[0].start_s)


def wrong(name: str, night: Night, it: dict[str, Any]) -> list[str]:
    """What must not be so."""
    said = []
    if night.lost_s:
        if it["starts"] > it["true"]:
            said.append("counted more than there were")
        if it["starts"] < it["true"] and not it["hidden_s"]:
            said.append("counted less, and no gap says so")
    elif (it["starts"], it["true"]) != (night.times, night.times) or it["hidden_s"]:
        said.append("counts differ")
    said += [f"{key}: {a} of {b} held" for key, (a, b) in it["held"].items() if a < _COVERED * b]
    if it["factor"][0] is None or abs(it["factor"][0] - it["factor"][1]) > it["factor"][2]:
        said.append("duration factor")
    if not night.lost_s and abs(it["per_hour"][0] / it["per_hour"][1] - 1.0) > 1e-3:
        said.append("starts per hour")
    if name == "grows" and "steady_current_a" not in it["drifts"]:
        said.append("the growing load was not told")
    return said


def line(name: str, it: dict[str, Any]) -> str:
    """One row of the table."""
    factor, true, half, _ = it["factor"]
    held = ", ".join(f"{key} {a}/{b}" for key, (a, b) in it["held"].items())
    counts = f"{it['starts']:3d} of {it['true']:3d} starts, {it['hidden_s']:5.1f} s hidden"
    drifts = ", ".join(it["drifts"]) or "none"
    return f"{name:8} {counts}, factor {factor:.2f} ± {half:.2f} % ({true:.2f}), {held}; drift: {drifts};"


def main(state_dir: Path, seed: int) -> int:
    """Print a table; 0 when nothing was wrong. What an earlier, interrupted run has played is not played again."""
    state = state_dir / "duty.json"
    done: dict[str, dict[str, Any]] = json.loads(state.read_text()) if state.exists() else {}
    complaints = 0
    for number, (name, night) in enumerate(runs(seed).items()):
        if name not in done:
            with tempfile.TemporaryDirectory() as folder:
                done[name] = judged(night, told(night, Path(folder), seed + number))
            state.write_text(json.dumps(done))
        it = done[name]
        said = wrong(name, night, it)
        complaints += len(said)
        print(line(name, it), "; ".join(said) or "good", flush=True)
    total, true = (sum(it[key] for it in done.values()) for key in ("starts", "true"))
    print(f"{total} starts counted of {true} over {len(done)} runs, {complaints} with something wrong")
    return 1 if complaints else 0
