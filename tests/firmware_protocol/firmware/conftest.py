"""What the tests of the firmware share: the core built once for this PC, and the binaries of the boards."""

from pathlib import Path

import pytest

from tests.firmware_protocol.firmware.builds import give_up, make, need
from tests.firmware_protocol.firmware.c_core import Core
from tests.firmware_protocol.firmware.small import Small


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


@pytest.fixture(scope="session")
def small(pytestconfig: pytest.Config, tmp_path_factory: pytest.TempPathFactory) -> Small:
    """The binaries of the 8-bit board, and what runs them: simavr, called by a program that this test compiles."""
    need(pytestconfig, "make", "cc", "avr-gcc")
    if not Path("/usr/include/simavr/sim_avr.h").exists():
        give_up(pytestconfig, "libsimavr is not here: sudo apt install libsimavr-dev")
    folder = tmp_path_factory.mktemp("small")
    make(folder, "atmega328p")
    make(folder, "atmega328p_115200")
    return Small(folder)
