"""BOARD.md: its arithmetic, once more from the formulas, and the numbers of the small board's firmware against it.

Ohm's law, first-order filters and aliasing are textbook. What BOARD.md marks as from memory is not proved here.
"""

import re
from math import hypot, log10, pi
from pathlib import Path
from textwrap import dedent
from xml.etree import ElementTree

import pytest

from firmware_protocol import Edges, Message, Samples12, Status, encode_frame
from server.motors import MOTOR_TYPES
from server.quantities import QUANTITIES
from server.settings.text import parse_rig
from tests.firmware_protocol.by_the_book import tables
from tests.firmware_protocol.test_boards_in_the_text import ROWS, described

FOLDER = Path(__file__).resolve().parents[2] / "firmware_protocol"
GUIDE = (FOLDER / "BOARD.md").read_text(encoding="utf-8")
ABOUT = (FOLDER / "firmware" / "boards" / "atmega328p" / "about.c").read_text(encoding="utf-8")
DRAWINGS = sorted(set(re.findall(r"\((drawings/\w+\.svg)\)", GUIDE)))
_PREFIX = {"m": 1e-3, "n": 1e-9, "k": 1e3, "M": 1e6, "": 1.0}


def table(*columns: str) -> list[dict[str, str]]:
    (found,) = (rows for rows in tables(GUIDE) if set(columns) <= set(rows[0]))
    return found


def si(text: str) -> float:
    """ "12.2 mV" -> 0.0122."""
    found = re.fullmatch(r"(-?[\d.]+) ?([mnkM]?)(?:ohm|Hz|V|A|W|F|B/s)?", text)
    assert found, text
    return float(found[1]) * _PREFIX[found[2]]


def parallel(*ohms: float) -> float:
    return 1 / sum(1 / ohm for ohm in ohms)


def left(hertz: float, corner_hz: float) -> float:
    return 1 / hypot(1, hertz / corner_hz)


def corner(ohm: float, farad: float) -> float:
    return 1 / (2 * pi * ohm * farad)


def at_the_node(volt: float, r1: float, r2: float, r3: float) -> float:
    """Where R1 from a lead at `volt`, R2 to minus and R3 to 5 V meet, by Kirchhoff."""
    return (volt / r1 + 5 / r3) * parallel(r1, r2, r3)


def open_lead() -> float:
    """A lead that hangs free lies between the middles of its two dividers: no current into it, in kohm."""
    high, low = 120 + parallel(10, 120), 22 + parallel(22, 22)  # as two sources, each behind its resistance
    return (5 * 10 / 130 / high + 5 * 22 / 44 / low) * parallel(high, low)


OPEN_V = open_lead()


@pytest.mark.parametrize("row", table("R1", "R2", "R3"), ids=lambda row: row["channel"])
def test_dividers(row: dict[str, str]) -> None:
    """By Kirchhoff at the node, not by the text's formula: the input at the ends of the range is what it says."""
    r1, r2 = si(row["R1"]), si(row["R2"])
    r3 = float("inf") if row["R3"] == "none" else si(row["R3"])
    for end, pin in (("low", "input from"), ("high", "to")):
        at_the_pin = (si(row[end]) / r1 + 5 / r3) * parallel(r1, r2, r3)
        assert at_the_pin == pytest.approx(si(row[pin]), abs=1e-9, rel=2e-3)
    assert si(row["ratio"]) == pytest.approx(1 + r1 / r2 + r1 / r3)
    assert (si(row["high"]) - si(row["low"])) / si(row["codes"]) == pytest.approx(si(row["step"]), rel=5e-3)


def test_the_firmware_describes_the_ranges_and_filters_of_the_tables() -> None:
    ranges = {row["channel"]: row for row in table("R1", "R2", "R3")}
    filters = {row["board"]: row for row in table("corner", "two leave")}
    for macro, name in (("VOLTS", "high range"), ("LOW_VOLTS", "low range")):
        found = re.search(rf"define {macro}\(.*VOLT, ([\d.]+) / 1024, ([\d.]+), (\d+)\)", ABOUT)
        assert found
        span, middle, ohm = map(float, found.groups())
        row, filtered = ranges[f"low voltage, {name}"], filters[f"small, {name}"]
        assert span == si(row["high"]) - si(row["low"])
        assert middle == (si(row["high"]) + si(row["low"])) / 2  # code 0 is the middle of the converter
        assert ohm == si(filtered["R"])
        assert ohm == pytest.approx(parallel(si(row["R1"]), si(row["R2"]), si(row["R3"])) + 1000, abs=1)
    found = re.search(r"AMPERE, ([\d.]+) / 1024, 0.0, (\d+)\)", ABOUT)
    assert found
    assert float(found[1]) == pytest.approx(5 / 0.040)
    assert float(found[2]) == si(filters["small, current"]["R"])
    slow = {name: row for name, row in filters.items() if name.endswith(", 115 200 baud")}
    assert len(slow) == 3
    assert all(row["R"] == filters[name.removesuffix(", 115 200 baud")]["R"] for name, row in slow.items())
    assert {row["C"] for row in slow.values()} == {"220 nF"}
    assert [int(nf) for nf in re.findall(r"define FILTER_NF (\d+)", ABOUT)] == [220, 100]


@pytest.mark.parametrize("row", table("shunt", "power"), ids=lambda row: f"{row['shunt']} {row['current']}")
def test_shunts(row: dict[str, str]) -> None:
    assert si(row["current"]) * si(row["shunt"]) == pytest.approx(si(row["voltage"]))
    power = si(row["current"]) ** 2 * si(row["shunt"])
    assert float(f"{power:.3g}") == pytest.approx(si(row["power"]))  # three digits stand there


@pytest.mark.parametrize("row", table("plate", "sensor for"), ids=lambda row: row["plate"])
def test_current_ranges(row: dict[str, str]) -> None:
    assert 8 * 2**0.5 * si(row["plate"]) == pytest.approx(si(row["times 8, peak"]), rel=2e-3)
    assert si(row["times 8, peak"]) < si(row["sensor for"])
    assert 2 * si(row["sensor for"]) / 65536 == pytest.approx(si(row["step of 65536 codes"]), rel=5e-3)


def test_the_gaps_fit_the_impulses_and_basic_insulation_has_half_the_creepage_of_reinforced() -> None:
    """IEC 60664-1, pollution degree 2, from memory: so only that the tables agree with each other is shown."""
    clearance = {2500: "1.5 mm", 4000: "3.0 mm", 6000: "5.5 mm"}
    reinforced = {row[""]: row for row in table("category II", "category III")}
    for category in ("category II", "category III"):
        basic, double = (
            int(si(reinforced[f"impulse voltage for {kind} insulation"][category])) for kind in ("basic", "reinforced")
        )
        assert reinforced["clearance through air, reinforced"][category] == clearance[double]
        one, two = table("between", "creepage")[:2]
        assert one[f"clearance, {category}"] == two[f"clearance, {category}"] == clearance[basic]
    for inside, name in zip(table("between", "creepage")[:2], ("300 V, ordinary board material", "400 V"), strict=True):
        creepage = reinforced[f"creepage along the board, reinforced, {name}"]["category II"]
        assert 2 * float(inside["creepage"].split()[0]) == float(creepage.split()[0])


def test_what_the_low_side_draws_adds_up() -> None:
    rows = table("part of the low side", "together")
    assert all(si(row["together"]) == pytest.approx(si(row["each"]) * int(row["number"])) for row in rows)
    assert sum(si(row["together"]) for row in rows) == pytest.approx(0.350)


def test_readings_and_places_that_the_guide_names_are_those_of_the_service() -> None:
    named = set(re.findall(r"`((?:voltage|current|active|phase|hall)_\w+)(?:\.[VW])?`", GUIDE))
    assert len(named) >= 6
    assert named <= {quantity.key for quantity in QUANTITIES}
    places = {place for motor in MOTOR_TYPES for place in (motor.voltage_place, motor.current_place, *motor.phases)}
    told = " ".join(" ".join(row.values()) for row in table("voltage channels", "current sensors"))
    assert not [place for place in places if f"`{place}`" not in told]


def test_the_settings_of_the_checks_are_those_of_a_rig() -> None:
    (block,) = re.findall(r"\n((?:    [^\n]+\n|\n)*    \[motor\]\n.*?)\n(?=\S)", GUIDE, re.S)
    settings = parse_rig(dedent(block), "bench.toml", "bench").settings
    assert settings.motor is not None
    assert settings.motor.type == "brushless"


@pytest.mark.parametrize("row", table("corner", "two leave"), ids=lambda row: row["board"])
def test_filters(row: dict[str, str]) -> None:
    corner_hz, rate_hz = corner(si(row["R"]), si(row["C"])), si(row["rate"])
    assert corner_hz == pytest.approx(si(row["corner"]), rel=1e-3)
    one = left(rate_hz - 50, corner_hz)
    assert one == pytest.approx(float(row["one leaves of what folds onto 50 Hz"]), rel=2e-3)
    assert one**2 == pytest.approx(float(row["two leave"]), rel=2e-3)
    assert 20 * log10(one) < -9  # the mildest one of the table
    assert left(50, corner_hz) == pytest.approx(float(row["one leaves at 50 Hz"]), abs=6e-4)
    if rate_hz > 2 * 2000:
        assert left(2000, corner_hz) == pytest.approx(float(row["at 2000 Hz"]), rel=2e-3)
    else:
        assert row["at 2000 Hz"] == "none"


@pytest.mark.parametrize(("row", "wire"), list(zip(table("line", "edges a second"), ROWS[1:], strict=True)))
def test_what_the_line_carries(row: dict[str, str], wire: dict[str, str]) -> None:
    """From frames that are really written, for the two small boards of SPEC.md, section 15."""
    carries, blocks, edges_per_s = si(row["carries"]), float(row["blocks a second"]), float(row["edges a second"])
    assert carries == float(row["line"].split()[0]) / 10
    rate_hz = 1000 * float(wire["rate"].split()[0])
    assert blocks == rate_hz / int(wire["sets in a block"])
    assert edges_per_s == float(wire["edges a second"])
    block = len(encode_frame(Samples12(0, 4, 0x010101010101, 0x010101010101, b"\x88" * 96), sequence=257, boot=1))
    status = len(encode_frame(Status(0x010101010101, True, 1), sequence=257, boot=1))
    one, two = (len(encode_frame(Edges(1, tuple(range(1, n + 1)), bytes(n)), sequence=257, boot=1)) for n in (1, 2))
    assert (block, status, two - one, one - (two - one)) == (120, 30, 7, 14)
    identity, channels, halls = described(wire)
    described_as: list[Message] = [identity, *channels, *halls]
    said = sum(len(encode_frame(each, sequence=257, boot=1)) for each in described_as) / 10
    assert si(row["blocks"]) == block * blocks
    assert si(row["status"]) == status * 4
    assert si(row["description"]) == pytest.approx(said, rel=0.2)  # names and texts are a board's own
    assert si(row["edges"]) == 14 * blocks + 7 * edges_per_s
    whole = sum(si(row[part]) for part in ("blocks", "status", "description", "edges"))
    assert si(row["in all"]) == whole
    assert 100 * whole / carries == pytest.approx(float(row["share"].removesuffix(" %")), abs=0.5)


def test_the_firmware_promises_the_limits_that_the_checks_use() -> None:
    assert ".gain_limit = 0.02f, .offset_limit_codes = 4.0f" in ABOUT


def test_grounding_an_input_of_the_hall_state_7_leaves_the_states_of_the_table() -> None:
    assert "from 7 to 6, 5, 3" in GUIDE
    assert [7 & ~(1 << bit) for bit in range(3)] == [6, 5, 3]


@pytest.mark.parametrize("name", DRAWINGS)
def test_a_drawing_is_text_in_light_and_dark_within_its_frame_with_figures_of_the_guide(name: str) -> None:
    text = (FOLDER / name).read_text(encoding="utf-8")
    root = ElementTree.fromstring(text)
    assert "prefers-color-scheme: dark" in text
    assert root.find("{*}title") is not None
    width, height = map(float, root.attrib["viewBox"].split()[2:])
    words = root.findall("{*}text")
    assert len(words) > 20
    assert all(0 < float(word.attrib["x"]) < width and 0 < float(word.attrib["y"]) < height for word in words)
    assert len(DRAWINGS) == 3


def test_the_circuit_of_a_phase_has_the_dividers_of_the_table() -> None:
    text = (FOLDER / "drawings" / "phase_circuit.svg").read_text(encoding="utf-8")
    high, low = text.split("<!-- divider of the low range -->")
    for drawn, name in ((high, "high range"), (low, "low range")):
        (row,) = (row for row in table("R1", "R2", "R3") if row["channel"] == f"low voltage, {name}")
        assert f"{name}<" in drawn
        assert dict(re.findall(r">(R[123]) (\d+ kohm)<", drawn)) == {part: row[part] for part in ("R1", "R2", "R3")}


@pytest.mark.parametrize(
    ("name", "said", "value"),
    [
        ("mains_board", r"divider (\d+) : 1<", 1 + 4 * 390),
        ("mains_board", r"(\d+) : 1<", 1 + 8 * 390),
        ("mains_board", r"([\d.]+) or [\d.]+ kHz", corner(1e3, 22e-9) / 1e3),
        ("mains_board", r"or ([\d.]+) kHz", corner(1e3, 100e-9) / 1e3),
        ("low_voltage_board", r"high: (\d+) Hz", corner(9571, 100e-9)),
        ("low_voltage_board", r"low: (\d+) Hz", corner(8333, 100e-9)),
        ("low_voltage_board", r"filter (\d+) Hz<.*9\.1 kohm, 100 nF", corner(9100, 100e-9)),
        ("low_voltage_board", r"(\d+) mA is 1 V", 1e3 * 1 / 50),
        ("phase_circuit", r"open lead shows ([\d.]+) V", OPEN_V),
    ],
)
def test_a_figure_in_a_drawing(name: str, said: str, value: float) -> None:
    found = re.findall(said, (FOLDER / "drawings" / f"{name}.svg").read_text(encoding="utf-8"))
    assert found, said
    assert float(found[-1]) == pytest.approx(value, rel=0.01)
