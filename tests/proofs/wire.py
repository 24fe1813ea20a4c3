"""Ten million mutated frames through the decoder: no exception, nothing passes unchecked, memory flat."""

import json
import resource
import time
from collections import Counter
from pathlib import Path

from tests.firmware_protocol.mutations import run

FRAMES = 10_000_000
CHUNK = 100_000
GROWTH_KB_MAX = 20_000


def main(state_dir: Path, seed: int, frames: int = FRAMES, chunk: int = CHUNK) -> int:
    """Print what was found; 0 when all frames went through. What an earlier, interrupted run did is not done again."""
    state = state_dir / "wire.json"
    first, found = _done(state)
    run(f"{seed}/warm", chunk // 10)
    start, before_kb = time.process_time(), _memory_kb()
    for number in range(first, frames // chunk):
        found += run(f"{seed}/{number}", chunk)
        state.write_text(json.dumps({"chunks": number + 1, "found": found}))
    used_s, grown_kb = time.process_time() - start, _memory_kb() - before_kb
    print(f"{'found':12} {'times':>12}")
    for kind, times in sorted(found.items()):
        print(f"{kind:12} {times:12}")
    here = frames - first * chunk
    print(f"{here} frames in this run, {used_s:.0f} s of CPU, memory grew by {grown_kb} kB (at most {GROWTH_KB_MAX})")
    return 0 if found["frames"] == frames and grown_kb <= GROWTH_KB_MAX else 1


def _done(state: Path) -> tuple[int, Counter[str]]:
    """Chunks that an earlier run has done, and what it found."""
    if not state.exists():
        return 0, Counter()
    kept = json.loads(state.read_text())
    return kept["chunks"], Counter(kept["found"])


def _memory_kb() -> int:
    """Most memory this process has held; Linux counts in kB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
