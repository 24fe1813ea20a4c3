"""Builds the firmware with its own Makefile into a folder of the test; says what brings a tool that is missing."""

import shutil
import subprocess
from pathlib import Path

import pytest

FIRMWARE = Path(__file__).resolve().parents[3] / "firmware_protocol" / "firmware"
PACKAGES = {
    "make": "make",
    "cc": "gcc",
    "arm-none-eabi-gcc": "gcc-arm-none-eabi",
    "qemu-system-arm": "qemu-system-arm",
    "avr-gcc": "gcc-avr avr-libc",
    "ngspice": "ngspice",
}
FIRMWARE_MUST = "--firmware-must"


def need(config: pytest.Config, *tools: str) -> None:
    """Skips with a sentence where a tool is missing; with --firmware-must, which CI gives, that is a failure."""
    for tool in tools:
        if shutil.which(tool) is None:
            give_up(config, f"{tool} is not here: sudo apt install {PACKAGES[tool]}")


def give_up(config: pytest.Config, why: str) -> None:
    if config.getoption(FIRMWARE_MUST):
        pytest.fail(why)
    pytest.skip(why)  # the rest of the project needs no compiler; .ci/run installs them and does not skip


def make(folder: Path, target: str, *variables: str) -> str:
    """Runs one target of the Makefile; returns what it printed. Warnings are errors there."""
    command = ["make", "--silent", "-C", str(FIRMWARE), f"OUT={folder}", target, *variables]
    done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout
