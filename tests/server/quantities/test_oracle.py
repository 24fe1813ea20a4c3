"""Readings of random waves without noise against each definition written out: the same to a few millionths."""

from cmath import exp, pi

import numpy as np
import pytest

from server.motors import motor_type
from tests.server.quantities import oracle
from tests.server.quantities.windows import current, number, read, voltage, waves, window
from tests.server.signals.slow import Wave, series

LINES = ("L1", "L2", "L3")
ORDERS = (2, 3, 5, 7, 11, 13, 25)
SAME = 5e-6
NEAR_NOTHING = 1e-4  # of a quantity's own size: what is a small difference of large ones


def wave(draw: np.random.Generator, size: float, angle: float) -> Wave:
    """A fundamental, up to 15 % of harmonics and now and then a direct part."""
    phasors = {1: size * exp(1j * angle)}
    for order in ORDERS:
        if draw.random() < 0.7:
            phasors[order] = size * draw.uniform(0.0, 0.15) / order**0.5 * exp(2j * pi * draw.random())
    return series(phasors, mean=size * draw.normal(0.0, 0.02) if draw.random() < 0.5 else 0.0)


@pytest.mark.parametrize("number_of_case", range(12))
def test_one_phase(number_of_case: int) -> None:
    draw = np.random.default_rng((5, number_of_case))
    volts, amps = wave(draw, draw.uniform(20, 240), 0.0), wave(draw, draw.uniform(0.3, 5.0), draw.uniform(-1.4, 1.4))
    rows = waves(draw.uniform(45.0, 66.0), volts, amps, start_turns=draw.random())
    found = read(window([voltage(limit_v=700.0), current(limit_a=20.0)], rows))
    for key, true in oracle.single(oracle.cycle_of(volts), oracle.cycle_of(amps)).items():
        least = NEAR_NOTHING * abs(number(found, "apparent_power_va" if key.endswith(("_w", "_var")) else key))
        assert number(found, key) == pytest.approx(true, rel=SAME, abs=max(SAME, 0.05 * least)), key
    sense = "lagging" if number(found, "fundamental_reactive_power_var") >= 0 else "leading"
    assert found["power_factor_sense"].value == sense


@pytest.mark.parametrize("number_of_case", range(8))
def test_three_phases_together(number_of_case: int) -> None:
    draw = np.random.default_rng((6, number_of_case))
    size, amps, angle = draw.uniform(50, 240), draw.uniform(0.5, 5.0), draw.uniform(-1.2, 1.2)
    turns = [-2 * pi * k / 3 for k in range(3)]
    volts_waves = [wave(draw, size * (1 + draw.normal(0, 0.05)), turn) for turn in turns]
    amps_waves = [wave(draw, amps * (1 + draw.normal(0, 0.1)), turn - angle) for turn in turns]
    rows = waves(draw.uniform(45.0, 66.0), *volts_waves, *amps_waves, start_turns=draw.random())
    channels = [*(voltage(line, 700.0) for line in LINES), *(current(line, 20.0) for line in LINES)]
    found = read(window(channels, rows), motor_type("three_phase_induction"))
    of_volts, of_amps = ([oracle.cycle_of(each) for each in three] for three in (volts_waves, amps_waves))
    for key, true in oracle.together(of_volts, of_amps).items():
        assert number(found, key) == pytest.approx(true, rel=SAME, abs=2e-5), key
    for line, volts, current_of in zip(LINES, of_volts, of_amps, strict=True):
        watts = oracle.single(volts, current_of)["active_power_w"]
        assert number(found, f"active_power_w.{line}") == pytest.approx(watts, rel=SAME, abs=1e-4)


# The lines of a window that is exactly ten or twelve cycles long, summed term by term (IEC 61000-4-7, 5.5 and 5.6, from
# memory): groups take half of the two lines in the middle between harmonics, subgroups the nearest lines alone.
@pytest.mark.parametrize("hertz", [50.0, 60.0])
def test_groups_and_subgroups_of_random_lines(hertz: float) -> None:
    draw, cycles = np.random.default_rng(round(hertz)), round(hertz * 0.2)
    turns = np.arange(4000) / 4000
    lines = {
        cycles: 10.0,
        **{int(line): draw.uniform(0.01, 0.2) for line in draw.integers(2 * cycles - 3, 8 * cycles, 40)},
    }
    values = sum(size * 2**0.5 * np.cos(2 * pi * (line * turns + draw.random())) for line, size in lines.items())
    assert isinstance(values, np.ndarray)
    found = read(window([current(limit_a=40.0)], [values]))

    def square(line: int) -> float:
        angles = 2 * pi * line * turns
        return float((values @ np.cos(angles)) ** 2 + (values @ np.sin(angles)) ** 2) * 2 / 4000**2

    half = cycles // 2
    groups, subgroups, between = (
        found[f"current_{name}_a"].value
        for name in ("harmonic_groups", "harmonic_subgroups", "interharmonic_subgroups")
    )
    assert isinstance(groups, tuple)
    assert isinstance(subgroups, tuple)
    assert isinstance(between, tuple)
    for order in (3, 4, 5, 6):
        middle = order * cycles
        inner = sum(square(middle + k) for k in range(-half + 1, half))
        edges = 0.5 * (square(middle - half) + square(middle + half))
        assert groups[order - 1] == pytest.approx((inner + edges) ** 0.5, rel=1e-3, abs=1e-3), order
        nearest = sum(square(middle + k) for k in (-1, 0, 1))
        assert subgroups[order - 1] == pytest.approx(nearest**0.5, rel=1e-3, abs=1e-3), order
        inside = sum(square(middle + k) for k in range(2, cycles - 1))
        assert between[order] == pytest.approx(inside**0.5, rel=1e-3, abs=1e-3), order
