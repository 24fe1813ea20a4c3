"""Duty types are named only when seen; else it is said what is missing. The types: IEC 60034-1, 4.2 (from memory)."""

from dataclasses import replace

import pytest

from server.duty import Cycle, Figure
from server.duty.equilibrium import Equilibrium
from server.duty.types import FEWEST, duty_type_of
from tests.server.duty.test_factor import cycle

NONE = Equilibrium(None, "no temperature is watched")


def cycles(
    count: int = FEWEST,
    on_s: float = 150.0,
    off_s: float = 450.0,
    heat: float = 2.0,
    braked: bool = False,
    **more: float,
) -> list[Cycle]:
    found = []
    for number in range(count):
        one = cycle(number, on_s, off_s, braked=braked)
        figures = {"steady_current_a": 2.0, "current_spread": 1.0, "start_heat": heat, **more}
        one.figures.update({key: Figure(value) for key, value in figures.items()})
        found.append(one)
    return found


@pytest.mark.parametrize(
    ("it", "name"),
    [(cycles(), "S3"), (cycles(heat=30.0), "S4"), (cycles(heat=30.0, braked=True), "S5")],
)
def test_identical_cycles_are_told_apart_by_start_and_braking(it: list[Cycle], name: str) -> None:
    assert duty_type_of(it, NONE).name == name


@pytest.mark.parametrize(
    ("it", "missing"),
    [
        ([], "no start was seen"),
        (cycles(FEWEST - 1), f"S3 to S5: {FEWEST - 1} cycles are known whole, and {FEWEST} are asked for"),
        (cycles() + cycles(on_s=400.0), "S3 to S5: on-times differ by more than 10 % from cycle to cycle"),
        (cycles(current_spread=40.0), "S3 to S5: the load within a cycle is not constant"),
        (cycles(on_s=3000.0, off_s=3000.0), "S3 to S5: cycles of more than 60 min may reach thermal equilibrium"),
    ],
)
def test_what_is_missing_is_said(it: list[Cycle], missing: str) -> None:
    found = duty_type_of(it, NONE)
    assert found.name == ""
    assert missing in found.missing


def test_a_constant_load_in_thermal_equilibrium_is_continuous() -> None:
    (one,) = cycles(1, on_s=14_400.0)
    settled = Equilibrium(one.start_s + 10_000.0)
    assert duty_type_of([one], settled).name == "S1"
    uneven = replace(one, figures={**one.figures, "current_spread": Figure(40.0)})
    assert "S1: the load is not constant" in duty_type_of([uneven], settled).missing
    assert any(each.startswith("S1: thermal equilibrium was not seen") for each in duty_type_of([one], NONE).missing)


def test_a_load_that_ends_before_equilibrium_and_cools_down_is_short_time() -> None:
    (one,) = cycles(1, on_s=1800.0, off_s=20_000.0)
    cold = [(one.start_s + 21_500.0, 21.0)]
    assert duty_type_of([one], NONE, cold, 20.0).name == "S2"
    assert duty_type_of([one], NONE, [(cold[0][0], 26.0)], 20.0).name == ""
    assert "S2: a temperature of the motor and that of the ambient are not known" in duty_type_of([one], NONE).missing
