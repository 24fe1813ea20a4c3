#!/usr/bin/env python3
"""python3 run.py demo | test [pytest options] | prove NAME

Sets everything up in .venv beside this file (once), then starts the demo, the tests or a proof.
Needs Python 3.11 or newer and pip; standard library only.
"""

import sys

if sys.version_info < (3, 11):  # nothing newer than Python 3.0 may stand above this line
    sys.exit("Slipring needs Python 3.11 or newer; this is %d.%d." % sys.version_info[:2])

import difflib
import hashlib
import importlib.metadata
import importlib.util
import os
import signal
import subprocess
import tempfile
import time
import venv
from pathlib import Path
from types import ModuleType

ROOT = Path(__file__).resolve().parent
VENV = ROOT / ".venv"
PYTHON = VENV / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
TOGETHER = 2  # files of tests
UV = "uv>=0.5,<1"
NO_TESTS = 5  # pytest's exit code where nothing was collected
EXTRA = {"demo": "demo", "test": "test", "prove": "test"}


def main(arguments: list[str]) -> None:
    command = arguments[0] if arguments else ""
    if command not in EXTRA or (command == "prove" and len(arguments) < 2):
        near = difflib.get_close_matches(command, EXTRA, n=1)
        said = "there is no command %s" % command if command and command not in EXTRA else ""
        said += "; did you mean %s?" % near[0] if near and near[0] != command else ""
        print(said + "\n" if said else "", __doc__, sep="", file=sys.stderr)
        sys.exit(2)
    if EXTRA[command] == "test":
        # The tests start hundreds of programs: what is compiled is kept, and apart where one wants none by the sources.
        os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
        os.environ["PYTHONPYCACHEPREFIX"] = str(VENV / "compiled")
    prepare(EXTRA[command])
    rest = arguments[1:]
    if command == "demo":
        start(["-m", "server", "serve", "--demo", *rest])
    if command == "prove":
        start(["-m", "tests.proofs", *rest])
    test(rest)


def test(options: list[str]) -> None:
    """Two files of tests at a time, as a browser and its service fill a core; then one by one tests against the clock.

    The last leave most of two cores free. So they begin once only those are left of the others that compute or check
    the code: these run beside them, behind all else.
    """
    own = ("-n", "-m", "--basetemp", "--junitxml", "--pdb")  # options that three at once cannot share
    if any(each.startswith(own) for each in options) or (os.cpu_count() or 1) == 1:
        start(["-m", "pytest", *options])
    os.chdir(ROOT)
    pytest = [str(PYTHON), "-m", "pytest", *options]
    # In their order: the long journeys come first, and last those that only compute.
    several = ["-n", str(TOGETHER), "--dist", "loadfile", "--no-loadscope-reorder"]
    signal.signal(signal.SIGTERM, signal.default_int_handler)  # as Ctrl-C does: nothing stays behind
    with tempfile.TemporaryDirectory() as behind, tempfile.TemporaryFile() as said:
        os.environ["SLIPRING_BEHIND"] = behind  # each of the two says there that it has come so far
        most = subprocess.Popen([*pytest, *several, "-m", "not alone and not long"])
        try:
            while most.poll() is None and len(os.listdir(behind)) < TOGETHER:
                time.sleep(0.2)
            del os.environ["SLIPRING_BEHIND"]
            alone_ones = [*pytest, "-p", "no:cacheprovider", "-m", "alone and not long"]
            alone = subprocess.run(alone_ones, stdin=subprocess.DEVNULL, stdout=said, stderr=said, check=False)
            most.wait()
        finally:
            most.terminate()
            most.wait()
            said.seek(0)
            print(said.read().decode(errors="replace"), flush=True)
    codes = {abs(each.returncode) for each in (most, alone)}  # below 0: ended by a signal
    if codes != {NO_TESTS} and any(not each.startswith("--") for each in options):  # some, all of a kind
        codes -= {NO_TESTS}
    sys.exit(max(codes))


def prepare(extra: str) -> None:
    """Make .venv and install the project into it, unless that was done for just this state."""
    stamp = VENV / f"ready-{extra}"
    enough = (stamp, VENV / "ready-test")  # the extra "test" holds all of "demo"
    state = hashlib.sha256((ROOT / "pyproject.toml").read_bytes() + str(ROOT).encode()).hexdigest()
    page_is_current = load_page_builder().is_current() or os.environ.get("SLIPRING_PAGE") == "skip"
    if page_is_current and any(path.exists() and path.read_text() == state for path in enough):
        return
    print("Preparing .venv (once, one to three minutes) ...", file=sys.stderr, flush=True)
    pip = make_environment()
    if not install_by_uv(pip, extra):
        # The tests keep what is compiled elsewhere: half a minute for nothing.
        options = ["--quiet", *(["--no-compile"] if extra == "test" else []), "--editable"]
        result = subprocess.run([*pip, "install", "pip", *options, f"{ROOT}[{extra}]"], check=False)
        if result.returncode:
            sys.exit("Slipring could not be installed; what pip said stands above.")
    # The models of the software board, so that no demo motor starts slowly; what fails here is told when one starts.
    subprocess.run([str(PYTHON), "-m", "simulator", "compile"], check=False, cwd=ROOT, stderr=subprocess.DEVNULL)
    stamp.write_text(state)


def install_by_uv(pip: list[str], extra: str) -> bool:
    """Whether uv did it, in a fifth of the time. It does not know all that is set for pip: pip has the last word."""
    if subprocess.run([*pip, "install", "--quiet", UV], check=False, stderr=subprocess.DEVNULL).returncode:
        return False
    options = ["--quiet", "--python", str(PYTHON), *([] if extra == "test" else ["--compile-bytecode"])]
    options += ["--reinstall-package", "slipring", "--editable"]  # else a changed page is not built
    uv = [str(PYTHON), "-m", "uv", "pip", "install", "pip", *options, f"{ROOT}[{extra}]"]  # wherever pip has put it
    return subprocess.run(uv, check=False, stderr=subprocess.DEVNULL).returncode == 0


def load_page_builder() -> ModuleType:
    """dashboard/build_page.py: standard library only, so it can be asked before anything is installed."""
    spec = importlib.util.spec_from_file_location("build_page", ROOT / "dashboard" / "build_page.py")
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def make_environment() -> list[str]:
    """Create .venv if it is missing or was moved; return the pip command that installs into it."""
    has_pip = importlib.util.find_spec("pip") is not None and major_of_pip() >= 23  # knows --python
    if not has_pip and importlib.util.find_spec("ensurepip") is None:
        sys.exit("Python's pip is missing. On Debian and its kin: sudo apt install python3-venv")
    if not PYTHON.exists() or not any(VENV.glob("ready-*")):
        venv.create(VENV, with_pip=not has_pip, clear=VENV.exists())  # the venv's own takes seven seconds
    if has_pip:
        return [sys.executable, "-m", "pip", "--python", str(PYTHON)]
    return [str(PYTHON), "-m", "pip"]


def major_of_pip() -> int:
    return int(importlib.metadata.version("pip").partition(".")[0])


def start(arguments: list[str]) -> None:
    """Become the program, so that Ctrl-C and SIGTERM reach it and nothing stays behind."""
    os.chdir(ROOT)
    command = [str(PYTHON), *arguments]
    if os.name == "nt":  # no exec there that keeps the console
        sys.exit(subprocess.run(command, check=False).returncode)
    os.execv(command[0], command)


if __name__ == "__main__":
    main(sys.argv[1:])
