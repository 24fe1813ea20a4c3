"""Coverage-guided fuzzing of both ends of the wire: the decoder in Python, and the board's side in C with sanitizers.

Five minutes each by default, in pieces of one; the corpus found so far is kept, so a run that was interrupted goes on.
Needs atheris (.venv/bin/python -m pip install atheris) and clang (apt install clang libclang-rt-14-dev).
"""

import importlib.util
import json
import re
import shutil
import subprocess
import sys
from pathlib import Path

from tests.firmware_protocol.fuzzed import CONTENTS
from tests.firmware_protocol.golden import FILE

SECONDS = 300
PIECE_S = 60
ROOT = Path(__file__).resolve().parents[2]
FIRMWARE = ROOT / "firmware_protocol" / "firmware"
CRASH = "crash-"


def main(state: Path, seed: int) -> int:
    """0 when neither end crashed or said anything that does not hold."""
    targets = {"decoder in Python": python_target(), "board in C": c_target(state)}
    good = True
    print(f"{'what':20} {'executions':>12} {'seconds':>8} {'branches':>9} {'crashes':>8}")
    for name, command in targets.items():
        folder = state / name.split()[-1].lower()
        done = _fuzz(folder, command, seed)
        crashes = len(list(folder.glob(f"{CRASH}*")))
        good &= not crashes
        print(f"{name:20} {done['executions']:12} {done['seconds']:8} {done['branches']:9} {crashes:8}")
    return 0 if good else 1


def python_target() -> list[str]:
    if importlib.util.find_spec("atheris") is None:
        sys.exit("This proof needs atheris: .venv/bin/python -m pip install atheris")
    return [sys.executable, "-m", "tests.firmware_protocol.fuzz"]


def c_target(state: Path) -> list[str]:
    clang = shutil.which("clang")
    if clang is None:
        sys.exit("This proof needs clang with libFuzzer: sudo apt install clang libclang-rt-14-dev")
    sources = [ROOT / "tests" / "firmware_protocol" / "firmware" / "fuzz_board.c", FIRMWARE / "boards/host/host.c"]
    sources += sorted((FIRMWARE / "core").glob("*.c"))
    binary = state / "fuzz_board"
    flags = ["-std=c11", "-g", "-O1", f"-I{FIRMWARE / 'core'}", f"-I{FIRMWARE / 'boards/host'}"]
    flags += ["-fsanitize=fuzzer,address,undefined", "-fno-sanitize-recover=all"]
    subprocess.run([clang, *flags, "-o", str(binary), *map(str, sources)], check=True)
    return [str(binary)]


def _fuzz(folder: Path, command: list[str], seed: int) -> dict[str, int]:
    """Go on until SECONDS are full; stops at the first crash, whose input is kept in `folder`."""
    corpus, kept = folder / "corpus", folder / "done.json"
    corpus.mkdir(parents=True, exist_ok=True)
    for number, frame in enumerate(json.loads(FILE.read_text())):
        (corpus / f"golden-{number}").write_bytes(b"\0" + bytes.fromhex(frame["wire"]))
        (corpus / f"contents-{number}").write_bytes(bytes((CONTENTS,)) + bytes.fromhex(frame["wire"])[1:-6])
    done = json.loads(kept.read_text()) if kept.exists() else {"executions": 0, "seconds": 0, "branches": 0}
    while done["seconds"] < SECONDS and not list(folder.glob(f"{CRASH}*")):
        options = [f"-max_total_time={PIECE_S}", "-max_len=1300", f"-seed={seed + done['seconds']}", "-verbosity=1"]
        run = subprocess.run(
            [*command, str(corpus), *options, f"-artifact_prefix={folder}/"],
            capture_output=True, text=True, cwd=ROOT, check=False,
        )  # fmt: skip
        executions = re.search(r"Done (\d+) runs", run.stderr)
        branches = re.findall(r"cov: (\d+)", run.stderr)
        if executions is None and not list(folder.glob(f"{CRASH}*")):
            sys.exit(run.stderr[-2000:])
        done["executions"] += int(executions[1]) if executions else 0
        done["branches"] = int(branches[-1]) if branches else done["branches"]
        done["seconds"] += PIECE_S
        kept.write_text(json.dumps(done))
    return done
