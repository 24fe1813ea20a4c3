"""The core built with AddressSanitizer and UndefinedBehaviorSanitizer: nothing is read or written beyond its place."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.firmware_protocol.firmware.builds import FIRMWARE, give_up, make, need

ROOT = FIRMWARE.parents[1]
_BEYOND = """
import sys
from ctypes import CDLL, c_void_p, create_string_buffer
library = CDLL(sys.argv[1])
library.host_outbox.restype = c_void_p
library.frame_bytes(c_void_p(library.host_outbox(64, 0, 0)), create_string_buffer(4), 4000)
"""


@pytest.fixture(scope="module")
def library(pytestconfig: pytest.Config, tmp_path_factory: pytest.TempPathFactory) -> Path:
    need(pytestconfig, "make", "cc")
    folder = tmp_path_factory.mktemp("sanitized")
    make(folder, "host-sanitized")
    return folder / "firmware-sanitized.so"


def python(config: pytest.Config, *arguments: str) -> subprocess.CompletedProcess[str]:
    """Python with the sanitizers loaded first; its own memory is left to `malloc`, so that they see it."""
    runtimes = []
    for name in ("libasan.so", "libubsan.so"):
        found = subprocess.run(["cc", f"-print-file-name={name}"], capture_output=True, text=True, check=True).stdout
        if not Path(found.strip()).is_absolute():
            give_up(config, f"{name} is not here: sudo apt install gcc")
        runtimes.append(found.strip())
    settings = {"LD_PRELOAD": " ".join(runtimes), "ASAN_OPTIONS": "detect_leaks=0", "PYTHONMALLOC": "malloc"}
    command = [sys.executable, *arguments]
    return subprocess.run(
        command, cwd=ROOT, env=os.environ | settings, capture_output=True, text=True, timeout=100, check=False
    )


def test_golden_frames_hostile_requests_and_worlds_leave_nothing_to_say(
    pytestconfig: pytest.Config, library: Path
) -> None:
    done = python(pytestconfig, "-m", "tests.firmware_protocol.firmware.sanitized", str(library))
    assert done.returncode == 0, done.stderr[-3000:]
    assert "worlds" in done.stdout


def test_a_fault_is_found(pytestconfig: pytest.Config, library: Path) -> None:
    """4000 bytes read out of a buffer of four."""
    done = python(pytestconfig, "-c", _BEYOND, str(library))
    assert done.returncode
    assert "buffer-overflow" in done.stderr
