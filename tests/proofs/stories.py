"""Every story of the bench played whole, the night too: ranges, rest at the end, energy within 0.5 %."""

import json
import time
from pathlib import Path

from simulator.bench import BENCH_KEYS, bench_motor
from tests.simulator.played import Player, complaints


def main(state_dir: Path, seed: int) -> int:
    """Print a table; 0 when nothing was wrong. What an earlier, interrupted run has played is not played again."""
    state = state_dir / "stories.json"
    done: dict[str, list[str]] = json.loads(state.read_text()) if state.exists() else {}
    for key in BENCH_KEYS:
        motor = bench_motor(key)
        player = Player(motor, seed)
        for story in motor.stories:
            name = f"{key}: {story.name}"
            if name in done:
                continue
            start = time.process_time()
            said = complaints(player, story)
            done[name] = said
            state.write_text(json.dumps(done))
            speed = story.duration_s / (time.process_time() - start)
            verdict = "; ".join(said) or "good"
            print(f"{name:60} {story.duration_s:8g} s {speed:6.0f} x real time  {verdict}", flush=True)
    wrong = [name for name, said in done.items() if said]
    print(f"{len(done)} stories, {len(wrong)} with something wrong")
    return 1 if wrong else 0
