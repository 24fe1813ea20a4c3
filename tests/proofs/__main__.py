"""python3 run.py prove NAME: the large twins of the tests, each in a file of its own beside this one."""

import argparse
import importlib
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
    chosen = parser.parse_args()
    folder = f"{chosen.name}-{chosen.seed}-{commit()}"
    state = STATE / folder
    state.mkdir(parents=True, exist_ok=True)
    start = time.monotonic()
    result: int = importlib.import_module(f"tests.proofs.{chosen.name}").main(state, chosen.seed)
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
