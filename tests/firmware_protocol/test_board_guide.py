"""BOARD.md: its arithmetic, once more from the formulas."""

import re
from math import hypot, pi
from pathlib import Path

import pytest

from tests.firmware_protocol.by_the_book import tables

GUIDE = (Path(__file__).resolve().parents[2] / "firmware_protocol" / "BOARD.md").read_text(encoding="utf-8")
_PREFIX = {"m": 1e-3, "n": 1e-9, "k": 1e3, "M": 1e6, "": 1.0}


def table(*columns: str) -> list[dict[str, str]]:
    (found,) = (rows for rows in tables(GUIDE) if set(columns) <= set(rows[0]))
    return found


def si(text: str) -> float:
    """ "12.2 mV" -> 0.0122."""
    found = re.fullmatch(r"([\d.]+) ?([mnkM]?)(?:ohm|Hz|V|A|W|F)?", text)
    assert found, text
    return float(found[1]) * _PREFIX[found[2]]


@pytest.mark.parametrize("row", table("R1", "R2", "ratio"), ids=lambda row: row["channel"])
def test_dividers(row: dict[str, str]) -> None:
    ratio = (si(row["R1"]) + si(row["R2"])) / si(row["R2"])
    assert ratio == pytest.approx(si(row["ratio"]), rel=1e-3)
    assert ratio * si(row["input takes"]) == pytest.approx(si(row["range"]), rel=2e-3)
    assert si(row["range"]) / si(row["codes"]) == pytest.approx(si(row["step"]), rel=2e-3)


@pytest.mark.parametrize("row", table("shunt", "power"), ids=lambda row: f"{row['shunt']} {row['current']}")
def test_shunts(row: dict[str, str]) -> None:
    assert si(row["current"]) * si(row["shunt"]) == pytest.approx(si(row["voltage"]))
    assert si(row["current"]) ** 2 * si(row["shunt"]) == pytest.approx(si(row["power"]))


@pytest.mark.parametrize("row", table("corner", "two"), ids=lambda row: row["board"])
def test_filters(row: dict[str, str]) -> None:
    corner = 1 / (2 * pi * si(row["R"]) * si(row["C"]))
    assert corner == pytest.approx(si(row["corner"]), rel=3e-3)
    left = 1 / hypot(1, (si(row["rate"]) - 50) / corner)
    assert left == pytest.approx(float(row["left of what folds onto 50 Hz, one"]), rel=3e-3)
    assert left**2 == pytest.approx(float(row["two"]), rel=5e-3)


def parallel(one: float, other: float) -> float:
    return one * other / (one + other)


@pytest.mark.parametrize(
    ("said", "value", "within"),
    [
        (r"At 230 V the chain takes ([\d.]+) mW", 1e3 * 230**2 / 1.601e6, 0.5),
        (r"400 V of range is (\d+) V RMS", 400 / 2**0.5, 0.5),
        (r"(\d+) ohm are 110 kohm beside 10 kohm", parallel(110e3, 10e3), 5),
        (r"a volt or two: (\d+) steps", 1.5 / (60 / 1024), 1),
        (r"the clamp carries\s+([\d.]+) mA", 1e3 * ((60 - 5.6) / 22e3 - 5.6 / 22e3), 0.05),
        (r"is 125 A over 5 V; steps of ([\d.]+) A", 125 / 1024, 1e-3),
        (r"185 mV an ampere: (\d+) A over 5 V", 5 / 0.185, 0.5),
        (r"27 A over 5 V, steps of (\d+) mA", 1e3 * 5 / 0.185 / 1024, 0.5),
        (r"4\.7 kohm to 5 V, ([\d.]+) mA each", 5 / 4.7, 0.05),
        (r"3\.3 kohm to minus: ([\d.]+) V", 5 * 3.3 / 5.1, 0.01),
        (r"makes ([\d.]+) V of 20 mA", 0.02 * 1 * 50, 0.01),
        (r"lamp of 40 W.*?230 V, ([\d.]+) A", 40 / 230, 0.005),
        (r"the link of such a drive has (\d+) V", 230 * 2**0.5, 1),
        (r"whose rate is\s+([\d.]+) % high", 100 * (16e6 / 8 / 17 / 115200 - 1), 0.05),
    ],
)
def test_a_figure_in_the_text(said: str, value: float, within: float) -> None:
    found = re.search(said, GUIDE, re.S)
    assert found, said
    assert float(found[1]) == pytest.approx(value, abs=within)


def test_the_drawings_are_there() -> None:
    for name in re.findall(r"\((drawings/\w+\.svg)\)", GUIDE):
        assert (Path(__file__).resolve().parents[2] / "firmware_protocol" / name).read_text().startswith("<svg")
