"""The tests that take too long for every change: the same in kind as others that `run.py test` runs, for more cases."""

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


def main(state: Path, seed: int) -> int:
    """0 when all of them pass. Those that an earlier, interrupted run has passed are run again: they are minutes."""
    del state, seed  # they draw nothing of their own
    return subprocess.run([sys.executable, "-m", "pytest", "-m", "long", "tests"], cwd=ROOT, check=False).returncode
