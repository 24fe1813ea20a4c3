"""BOARD.md: its arithmetic, once more from the formulas, and the numbers of the small board's firmware against it.

Ohm's law, first-order filters and aliasing are textbook. What BOARD.md marks as from memory is not proved here.
"""

import re
from math import hypot, log10, pi
from pathlib import Path
from xml.etree import ElementTree

import pytest

from firmware_protocol import Edges, Message, Samples12, Status, encode_frame
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
    assert si(row["current"]) ** 2 * si(row["shunt"]) == pytest.approx(si(row["power"]), rel=2e-3)


@pytest.mark.parametrize("row", table("plate", "sensor for"), ids=lambda row: row["plate"])
def test_current_ranges(row: dict[str, str]) -> None:
    assert 8 * 2**0.5 * si(row["plate"]) == pytest.approx(si(row["times 8, peak"]), rel=2e-3)
    assert si(row["times 8, peak"]) < si(row["sensor for"])
    assert 2 * si(row["sensor for"]) / 65536 == pytest.approx(si(row["step of 65536 codes"]), rel=5e-3)


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


def at_the_node(volt: float, r1: float, r2: float, r3: float) -> float:
    """Where R1 from a lead at `volt`, R2 to minus and R3 to 5 V meet, by Kirchhoff."""
    return (volt / r1 + 5 / r3) * parallel(r1, r2, r3)


def open_lead() -> float:
    """A lead that hangs free lies between the middles of its two dividers: no current into it, in kohm."""
    high, low = 120 + parallel(10, 120), 22 + parallel(22, 22)  # as two sources, each behind its resistance
    return (5 * 10 / 130 / high + 5 * 22 / 44 / low) * parallel(high, low)


CLAMP_V = 5.6  # 5 V and a silicon diode
OPEN_V = open_lead()
MOST_EDGES = {  # with a tenth of the line left free
    "250": (0.9 * 25000 - 15180 - 14 * 125) / 7,
    "115": (0.9 * 11520 - 7680 - 14 * 62.5) / 7,
}


@pytest.mark.parametrize(
    ("said", "value", "within"),
    [
        (r"the chain takes (\d+) mW", 1e3 * 230**2 / 1.561e6, 0.5),
        (r"2500 V each of four bears (\d+) V", 2500 / 4, 0.5),
        (r"390 V of range is (\d+) V RMS", 390 / 2**0.5, 0.5),
        (r"780 V is (\d+) V RMS", 780 / 2**0.5, 0.6),
        (r"1 V is (\d+) steps of the high range", 1024 / 70, 0.5),
        (r"high range and (\d+) of the low", 1024 / 15, 0.5),
        (r"open lead, ([\d.]+) V in both", OPEN_V, 0.005),
        (r"low one ([\d.]+) V downwards", OPEN_V + 5, 0.05),
        (r"downwards and ([\d.]+) V upwards", 10 - OPEN_V, 0.05),
        (r"open contact with ([\d.]+) V", at_the_node(60, 22, 22, 22), 0.05),
        (r"V and gives ([\d.]+) mA\s+to 5 V", (at_the_node(60, 22, 22, 22) - 5) / 22, 0.005),
        (r"off by ([\d.]+) codes where", 2.5 * 0.01 / (5 / 1024), 0.05),
        (r"that half, warm too: ([\d.]+) codes", 0.010 / (5 / 1024), 0.06),
        (r"\| ([\d.]+) V in both ranges", OPEN_V, 0.005),
        (r"both ranges, within ([\d.]+) V", OPEN_V * 0.02 + 4 * 70 / 1024, 0.005),
        (r"within 0.31 V \(low range ([\d.]+) V", OPEN_V * 0.02 + 4 * 15 / 1024, 0.005),
        (r"22 kohm = ([\d.]+) mA", (60 - CLAMP_V) / 22, 6e-3),
        (r"of which ([\d.]+) mA go", (60 - CLAMP_V) / 22 - CLAMP_V / 22 - (CLAMP_V - 5) / 22, 6e-3),
        (r"to 5 V, ([\d.]+) mA in all", 3 * 2.19, 0.04),
        (r"R1 takes (\d+) mW: a", (60 - CLAMP_V) ** 2 / 22, 0.6),
        (r"R1 takes (\d+) mW and may burn", (100 - CLAMP_V) ** 2 / 22, 0.6),
        (r"40 mV an ampere: ([\d.]+) A either way", 2.5 / 0.040, 1e-9),
        (r"either way in steps of (\d+) mA", 1e3 * 5 / 0.040 / 1024, 0.5),
        (r"1 mohm with a\s+difference amplifier of 40 .*? is (\d+) mV", 1e3 * 0.001 * 40, 1e-9),
        (r"185 mV an ampere:\s+([\d.]+) A either way", 2.5 / 0.185, 0.05),
        (r"13.5 A either way in steps of ([\d.]+) mA", 1e3 * 5 / 0.185 / 1024, 0.05),
        (r"write ([\d.]+) A / 1024", 5 / 0.185, 0.01),
        (r"so 20 mA make (\d+) V", 0.020 * 1 * 50, 1e-9),
        (r"four conversions take (\d+) us", 4 * 13.5 * 128 / 16, 1e-9),
        (r"us of the (\d+) us\s+between", 1e6 / 2000, 1e-9),
        (r"2\.2 kohm, ([\d.]+) mA each", 5 / 2.2, 0.05),
        (r"time constant of ([\d.]+) us", 3200 * 100e-12 * 1e6, 1e-6),
        (r"before it add ([\d.]+) us", 2200 * 300e-12 * 1e6, 1e-6),
        (r"18 kohm to minus: ([\d.]+) V", 5 * 18 / 28, 0.005),
        (r"still ([\d.]+) V behind", 5 * 18 / 30.2, 0.005),
        (r"gives only ([\d.]+) V", 5 * 3.3 / (4.7 + 1.8 + 3.3), 0.005),
        (r"10 kohm to minus make ([\d.]+) V", 12 * 10 / 25, 1e-9),
        (r"(\d+) ohm \+ 1000 ohm, 7333", parallel(120e3, 10e3, 120e3), 1),
        (r"(\d+) ohm \+ 1000 ohm\. The", parallel(22e3, 22e3, 22e3), 1),
        (r"at most ([\d.]+) V of amplitude", 2 * 36 / pi, 0.05),
        (r"filter leaves ([\d.]+) V", 2 * 36 / pi * left(16e3, corner(9571, 1e-7)), 0.005),
        (r"of it, ([\d.]+) steps", 2 * 36 / pi * left(16e3, corner(9571, 1e-7)) / (70 / 1024), 0.05),
        (r"reads (\d) % low at 50", 100 * (1 - left(50, corner(9571, 1e-7))), 0.5),
        (r"10 Hz, ([\d.]+) % low", 100 * (1 - left(10, corner(9571, 1e-7))), 0.05),
        (r"by R C: (\d+) us", 1e6 * 9571 * 1e-7, 0.5),
        (r"would be ([\d.]+) degrees", 360 * 10 * 957e-6, 0.06),
        (r"a tick is (\d) us", 1e6 * 64 / 16e6, 1e-9),
        (r"frequency are ([\d.]+) degrees", 360 * 350 * 4e-6, 0.05),
        (r"waiting are ([\d.]+) degrees", 360 * 350 * 10e-6, 0.05),
        (r"room for (\d+) and", MOST_EDGES["250"], 1),
        (r"room for \d+ and (\d+) edges", MOST_EDGES["115"], 1),
        (r"may turn\s+at (\d+) and", MOST_EDGES["250"] * 10 / 7, 1),
        (r"at \d+ and (\d+) r/min", MOST_EDGES["115"] * 10 / 7, 1),
        (r"whose rate is ([\d.]+) % high", 100 * (16e6 / 8 / 17 / 115200 - 1), 0.05),
        (r"such a drive has (\d+) V", 230 * 2**0.5, 1),
        (r"each phase pin ([\d.]+) V", 5 / 14, 0.005),
        (r"low range ([\d.]+) V\) \|", 5 / 3, 0.005),
        (r"30 V within ([\d.]+) V", 30 * 0.02 + 4 * 70 / 1024, 0.03),
        (r"V; pin ([\d.]+) V", (30 + 5) / 14, 1e-9),
        (r"0 V within ([\d.]+) V", 4 * 70 / 1024, 0.01),
        (r"low range ([\d.]+) V\); 0 A", 4 * 15 / 1024, 0.005),
        (r"0 A within ([\d.]+) A", 4 * 125 / 1024, 0.005),
        (r"2 A within ([\d.]+) A", 2 * 0.02 + 4 * 125 / 1024, 0.005),
        (r"supply gives ([\d.]+) mA to", (30 - CLAMP_V) / 22 + (30 - at_the_node(30, 120, 10, 120)) / 120, 0.05),
        (r"resistor of (\d+) ohm, 25 W", 12 / 1.0, 1e-9),
        (r"power (\d+) W, phase", 12 * 1.0, 1e-9),
        (r"230 V; ([\d.]+) A; 40 W", 40 / 230, 0.005),
    ],
)
def test_a_figure_in_the_text(said: str, value: float, within: float) -> None:
    found = re.findall(said, GUIDE, re.S)
    assert found, said
    assert float(found[0]) == pytest.approx(value, abs=within)


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
        ("mains_board", r"divider (\d+) : 1", 1 + 4 * 390),
        ("mains_board", r"([\d.]+) or [\d.]+ kHz", corner(1e3, 22e-9) / 1e3),
        ("mains_board", r"or ([\d.]+) kHz", corner(1e3, 100e-9) / 1e3),
        ("low_voltage_board", r"clamps, filter (\d+) Hz", corner(9571, 100e-9)),
        ("low_voltage_board", r"filter (\d+) Hz<.*9\.1 kohm, 100 nF", corner(9100, 100e-9)),
        ("low_voltage_board", r"(\d+) mA is 1 V", 1e3 * 1 / 50),
        ("phase_circuit", r"open lead shows ([\d.]+) V", OPEN_V),
    ],
)
def test_a_figure_in_a_drawing(name: str, said: str, value: float) -> None:
    found = re.findall(said, (FOLDER / "drawings" / f"{name}.svg").read_text(encoding="utf-8"))
    assert found, said
    assert float(found[-1]) == pytest.approx(value, rel=0.01)
