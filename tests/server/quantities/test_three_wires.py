"""Three phases measured as one finds them: two or three voltages between lines, two or three currents."""

from cmath import exp
from itertools import combinations
from math import pi, sqrt
from typing import Any

import pytest

from server.config import Plate
from server.motors.three_phase_induction import THREE_PHASE_INDUCTION
from server.readings import Reading
from server.samples import Part
from tests.server.quantities.windows import current, number, read, voltage, waves, window
from tests.server.signals.slow import series

A = exp(2j * pi / 3)
LINES = ("L1", "L2", "L3")
PHASES = {"L1": 230.0 + 0j, "L2": 225.0 * A**2, "L3": 238.0 * A}
AMPS = {"L1": 3.0 * exp(-0.6j), "L2": 2.8 * A**2 * exp(-0.7j)}
AMPS["L3"] = -AMPS["L1"] - AMPS["L2"]  # three wires
POWER = sum((PHASES[line] * AMPS[line].conjugate()).real for line in LINES)


def measured(between: tuple[str, ...], lines: tuple[str, ...]) -> dict[str, Reading]:
    volts = [PHASES[place[:2]] - PHASES[place[3:]] for place in between]
    shapes = [series({1: each}) for each in (*volts, *(AMPS[line] for line in lines))]
    channels = [*(voltage(place, 800) for place in between), *(current(line) for line in lines)]
    return read(window(channels, waves(50.3, *shapes)), THREE_PHASE_INDUCTION, Plate(pole_pairs=2))


@pytest.mark.parametrize("lines", [*combinations(LINES, 2), LINES])
@pytest.mark.parametrize(
    "between", [("L1-L2", "L2-L3"), ("L1-L3", "L2-L3"), ("L2-L1", "L3-L1"), ("L1-L2", "L2-L3", "L3-L1")]
)
def test_two_voltages_and_two_currents_say_what_three_of_each_do(
    between: tuple[str, ...], lines: tuple[str, ...]
) -> None:
    """P of three wires is the sum of two products (Blondel 1893, common knowledge of the trade); sequences are
    Fortescue's, in which a star point that is not the neutral changes the zero sequence alone."""
    found = measured(between, lines)
    assert number(found, "active_power_w") == pytest.approx(POWER, rel=1e-5)
    for line in LINES:
        key = "current_rms_a" if line == lines[0] == "L1" else f"current_rms_a.{line}"
        if key in found:
            assert number(found, key) == pytest.approx(abs(AMPS[line]), rel=1e-5)
    positive = abs(PHASES["L1"] + A * PHASES["L2"] + A**2 * PHASES["L3"]) / 3
    negative = abs(PHASES["L1"] + A**2 * PHASES["L2"] + A * PHASES["L3"]) / 3
    assert number(found, "voltage_positive_sequence_v") == pytest.approx(positive, rel=1e-5)
    assert number(found, "voltage_unbalance_percent") == pytest.approx(100 * negative / positive, rel=1e-3)
    assert found["voltage_phase_order"].value == "L1 L2 L3"


def test_a_voltage_against_the_artificial_star_is_named_so() -> None:
    found = measured(("L1-L2", "L2-L3"), LINES)
    star = PHASES["L1"] - sum(PHASES.values()) / 3
    assert number(found, "voltage_rms_v.star L1") == pytest.approx(abs(star), rel=1e-5)
    assert number(found, "voltage_rms_v") == pytest.approx(abs(PHASES["L1"] - PHASES["L2"]), rel=1e-5)
    assert not any(key.endswith(".star L1") for key in measured(("L1-L2",), LINES))


def test_the_largest_deviation_of_the_line_voltages_is_the_published_one() -> None:
    """Line voltages of 460, 467 and 450 V: average 459, largest deviation 9, so 1.96 % (a worked example of NEMA MG 1,
    14.36, as a page of a motor maker quotes it; the standard was not read). The phases are those of the triangle."""
    a, b, c = 460.0, 467.0, 450.0  # L1-L2, L2-L3, L3-L1
    angle = (a * a + b * b - c * c) / (2 * a * b)
    first, second = a + 0j, -b * (angle + 1j * sqrt(1 - angle * angle))
    shapes = [series({1: first}), series({1: second}), series({1: 3 + 0j}), series({1: 3 * A})]
    channels = [voltage("L1-L2", 900), voltage("L2-L3", 900), current("L1"), current("L2")]
    found = read(window(channels, waves(60.0, *shapes)), THREE_PHASE_INDUCTION)
    assert number(found, "voltage_max_deviation_percent") == pytest.approx(1.96, abs=0.005)
    assert [number(found, f"line_voltage_rms_v.{pair}") for pair in ("L1-L2", "L2-L3", "L3-L1")] == pytest.approx(
        [460.0, 467.0, 450.0], abs=0.01
    )


GAIN, DELAY_S = 1e-3, 5e-6
MOVED = (
    *("active_power_w", "power_factor", "arithmetic_apparent_power_va", "effective_apparent_power_va"),
    *("effective_power_factor", "active_power_w.L3", "phase_angle_deg.L3", "fundamental_reactive_power_var.L3"),
    *("current_negative_sequence_a", "current_rms_a.L3", "current_angle_deg.L3", "line_voltage_rms_v.L2-L3"),
    *("voltage_negative_sequence_v", "voltage_unbalance_percent", "voltage_max_deviation_percent"),
)


@pytest.mark.parametrize("between", [(), ("L1-L2", "L2-L3"), ("L1-L2", "L2-L3", "L3-L1")])
def test_what_is_made_of_other_channels_is_off_by_what_moving_each_of_them_shows(between: tuple[str, ...]) -> None:
    """JCGM 100, 5.1.3, note 2 (from memory): sensitivities found by changing each input by its standard uncertainty.

    A third current and a star are made; gains and delays of each channel are moved one after another."""
    limits: dict[str, Any] = {"gain": Part(GAIN), "delay_error": Part(DELAY_S), "offset_error": Part(1e-9)}
    limits |= {"clock": Part(1e-9)}
    volts = [PHASES[each[:2]] - PHASES[each[3:]] for each in between] or [PHASES[line] for line in LINES]
    channels = [voltage(place, 800, **limits) for place in between or LINES]
    channels += [current(line, **limits) for line in LINES[:2]]
    phasors = [*volts, AMPS["L1"], AMPS["L2"]]

    def told(moved: int | None, factor: complex) -> dict[str, Reading]:
        its = [each * (factor if k == moved else 1.0) for k, each in enumerate(phasors)]
        return read(
            window(channels, waves(50.3, *(series({1: each}) for each in its))),
            THREE_PHASE_INDUCTION,
            Plate(pole_pairs=2),
        )

    plain, turn = told(None, 1.0), exp(-2j * pi * 50.3 * DELAY_S)
    moved = [told(k, factor) for k in range(len(phasors)) for factor in (1.0 + GAIN, turn)]
    for key in MOVED:
        by_moving = sqrt(sum((number(each, key) - number(plain, key)) ** 2 for each in moved))
        sure = plain[key].uncertainty
        assert sure is not None, key
        told_parts = [part for source, part in sure.parts if source.startswith(("gain", "delay", "the positive"))]
        if key != "voltage_unbalance_percent":  # the positive sequence is told beside it, which hardly counts
            assert sqrt(sum(part**2 for part in told_parts)) == pytest.approx(by_moving, rel=0.03), key


def test_without_a_wave_nothing_is_said_of_powers_that_are_made_of_other_channels() -> None:
    limits: dict[str, Any] = {name: Part(1e-3) for name in ("gain", "offset_error", "delay_error", "clock")}
    channels = [*(voltage(line, **limits) for line in LINES), *(current(line, **limits) for line in LINES[:2])]
    level = [series({}, mean=20.0)] * 3 + [series({}, mean=1.0)] * 2
    found = read(window(channels, waves(50.3, *level)), THREE_PHASE_INDUCTION, Plate(pole_pairs=2))
    assert found["active_power_w.L3"].uncertainty is None
    assert found["active_power_w.L1"].uncertainty is not None
