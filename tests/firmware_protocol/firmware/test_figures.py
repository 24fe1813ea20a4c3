"""Flash, RAM and cycles in firmware/README.md are those of the binaries, by the toolchains' size tools and simavr."""

import re
from pathlib import Path

import pytest

from firmware_protocol import ClockRequest, Describe, Received, Samples12
from tests.firmware_protocol.firmware.builds import FIRMWARE, make, need
from tests.firmware_protocol.firmware.small import Small
from tests.firmware_protocol.firmware.small import said as said_by_a_pc
from tests.firmware_protocol.firmware.test_small import EDGES, WAVES

SETS_IN_BLOCK = 16


@pytest.fixture(scope="module")
def sizes(pytestconfig: pytest.Config, tmp_path_factory: pytest.TempPathFactory) -> dict[str, tuple[int, int]]:
    """Name of a binary -> flash and RAM in bytes."""
    need(pytestconfig, "make", "avr-gcc", "arm-none-eabi-gcc")
    printed = make(tmp_path_factory.mktemp("sizes"), "size")
    rows = re.findall(r"^ *(\d+)\s+(\d+)\s+(\d+)\s+\d+\s+\w+\s+(\S+)$", printed, re.M)
    return {Path(name).stem: (int(text) + int(data), int(data) + int(bss)) for text, data, bss, name in rows}


def said() -> dict[str, list[str]]:
    rows = re.findall(r"^\| (\w+: [\w ]+?) \| (.*?) \|$", (FIRMWARE / "README.md").read_text(), re.M)
    return {name: [cell.strip() for cell in cells.split("|")] for name, cells in rows}


def test_the_sizes_in_the_readme_are_those_of_the_binaries(sizes: dict[str, tuple[int, int]]) -> None:
    """A toolchain of another version makes other sizes, by a little."""
    table = said()
    for board in ("atmega328p", "mps2_an385"):
        whole = table[f"{board}: whole program"]
        assert [int(cell) for cell in whole[:2]] == pytest.approx(sizes[board], rel=0.02)
        assert int(table[f"{board}: wire and sampler alone"][0]) == pytest.approx(
            sizes[f"{board}_wire_and_sampler"][0], rel=0.02
        )


def test_wire_and_sampler_fit_six_kib_of_flash_and_all_boxes_one_and_a_half_of_ram(
    sizes: dict[str, tuple[int, int]],
) -> None:
    """The RAM of the whole program is counted, for the boxes of wire and sampler are in it; the stack has the rest."""
    assert sizes["atmega328p_wire_and_sampler"][0] < 6 * 1024
    for program in ("atmega328p", "atmega328p_115200"):
        assert sizes[program][1] < 1536


def test_the_cycles_in_the_readme_are_those_of_the_binary(small: Small) -> None:
    ran = small.run(1.0, WAVES, ["pins 1 5"])
    blocks = [one.message for one in ran.found if isinstance(one, Received) and isinstance(one.message, Samples12)]
    sets = blocks[-1].first_sample + SETS_IN_BLOCK
    assert int(said()["atmega328p: whole program"][2]) == pytest.approx((ran.cycles - ran.asleep) / sets, rel=0.03)


def test_the_stack_of_the_small_board_stays_in_what_is_left_of_its_ram(
    small: Small, sizes: dict[str, tuple[int, int]]
) -> None:
    """With edges and requests, so that interrupts nest."""
    pins = [f"pins {cycle} {levels}" for cycle, levels in EDGES]
    asked = [line for k in range(20) for line in said_by_a_pc(0.2 + 0.03 * k, Describe(), ClockRequest(k))]
    ran = small.run(1.2, WAVES, ["pins 1 5", *pins, *asked])
    assert int(said()["atmega328p: deepest stack"][1]) == pytest.approx(ran.stack_bytes, rel=0.1)
    assert ran.stack_bytes + 100 < 2048 - sizes["atmega328p"][1]
