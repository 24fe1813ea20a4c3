"""python3 run.py prove NAME: the large twins of the tests, each in a file of its own beside this one."""

import argparse
import importlib
import inspect
import os
import platform
import subprocess
import sys
import time
from pathlib import Path

HERE = Path(__file__).resolve().parent
STATE = HERE.parent.parent / ".prove"
NAMES = tuple(sorted(path.stem for path in HERE.glob("*.py") if not path.stem.startswith("_")))


def main() -> int:
    parser = argparse.ArgumentParser(prog="run.py prove", description=__doc__)
    parser.add_argument("name", choices=NAMES, help="which proof")
    parser.add_argument("--seed", type=int, default=1, help="seed of everything random (1)")
    parser.add_argument("--hours", type=float, help="of a night that is shorter than that of the proof")
    chosen = parser.parse_args()
    proof = importlib.import_module(f"tests.proofs.{chosen.name}")
    shorter = {} if chosen.hours is None else {"hours": chosen.hours}
    if shorter and "hours" not in inspect.signature(proof.main).parameters:
        parser.error(f"the proof {chosen.name} has no hours")
    folder = "-".join([chosen.name, str(chosen.seed), commit(), *(f"{hours:g}h" for hours in shorter.values())])
    state = STATE / folder
    state.mkdir(parents=True, exist_ok=True)
    start = time.monotonic()
    result: int = proof.main(state, chosen.seed, **shorter)
    print(
        f"\nproof {chosen.name}, seed {chosen.seed}, commit {commit()}, {machine()}, {time.monotonic() - start:.0f} s"
    )
    return result


def commit() -> str:
    """The commit, with a plus where files differ from it."""
    answer = [_git("rev-parse", "--short", "HEAD"), "+" if _git("status", "--porcelain") else ""]
    return "".join(answer) or "unknown"


def _git(*arguments: str) -> str:
    try:
        done = subprocess.run(["git", *arguments], cwd=HERE, capture_output=True, text=True, check=False)
    except OSError:
        return ""
    return done.stdout.strip()


def machine() -> str:
    return f"{platform.machine()} {os.cpu_count()} cores, Python {platform.python_version()}"


if __name__ == "__main__":
    sys.exit(main())
