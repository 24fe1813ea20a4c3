"""What the tests of the firmware share: the core built once for this PC, and the binaries of the boards."""

from pathlib import Path

import pytest

from tests.firmware_protocol.firmware.builds import make, need
from tests.firmware_protocol.firmware.c_core import Core


@pytest.fixture(scope="session")
def core(pytestconfig: pytest.Config, tmp_path_factory: pytest.TempPathFactory) -> Core:
    need(pytestconfig, "make", "cc")
    folder: Path = tmp_path_factory.mktemp("core")
    make(folder, "host")
    return Core(folder / "firmware.so")


@pytest.fixture(scope="session")
def program(pytestconfig: pytest.Config, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The binary of the emulated Cortex-M3."""
    need(pytestconfig, "make", "arm-none-eabi-gcc", "qemu-system-arm")
    folder = tmp_path_factory.mktemp("emulated")
    make(folder, "mps2_an385")
    return folder / "mps2_an385.elf"
