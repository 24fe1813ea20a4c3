"""Gain: a reading against a reference, how sure it is, and what is refused."""

from dataclasses import replace
from math import inf, sqrt

import numpy as np
import pytest
from scipy import stats

from server.calibration.entry import What
from server.calibration.found import Found, Side, UnfitError
from server.calibration.gain import Reference, find_gain
from server.samples import Part
from tests.server.calibration.measured import CURRENT, STATED, VOLTAGE, Fault, level, sine, stretch_of

METER = Reference(5.0, 0.02, True, "bench meter 34")
ZEROED = replace(CURRENT, offset_error=STATED)


def test_the_gain_is_reference_over_reading() -> None:
    found = find_gain(CURRENT, stretch_of(level(0.0), sine(5.0, fault=Fault(gain=0.02))), METER)
    assert found.change == pytest.approx(1.0 / 1.02)
    assert found.before.value == pytest.approx(5.1)
    assert found.after.value == pytest.approx(5.0)


def test_a_limit_is_rectangular_and_an_interval_is_normal() -> None:
    """JCGM 100, 4.3.7 (limits a: u = a / sqrt 3) and 4.3.4 (95 %: u = U / 1.96)."""
    assert METER.standard == pytest.approx(0.02 / sqrt(3.0))
    assert replace(METER, is_limit=False).standard == pytest.approx(0.02 / 1.96, rel=1e-4)


def test_the_guide_s_voltmeter() -> None:
    """JCGM 100, 4.3.7, example 2 and 5.1.5 (from memory): 0.928571 V, repeated with 12 uV, on a meter with limits of
    15 uV: 8.7 uV of it, and 15 uV together."""
    meter = Reference(0.928571, 15e-6, True, "digital voltmeter")
    assert meter.standard == pytest.approx(8.7e-6, abs=5e-8)
    none = Side(0.0, None)
    both = Found(What.GAIN, 1.0, [("", 12e-6, 19.0), ("", meter.standard, inf)], none, none, none)
    assert both.standard == pytest.approx(15e-6, abs=5e-7)


def test_a_meter_s_accuracy_alone_is_the_gain_s_where_nothing_scatters() -> None:
    found = find_gain(CURRENT, stretch_of(level(0.0), sine(5.0)), METER)
    assert found.standard == pytest.approx(0.004 / sqrt(3.0))
    assert found.dof > 1e9


def test_a_direct_reading_has_the_zero_s_uncertainty_too() -> None:
    stretch = stretch_of(level(0.0), level(-5.0), channels=(VOLTAGE, ZEROED))
    found = find_gain(ZEROED, stretch, replace(METER, value=-5.05))
    assert found.change == pytest.approx(1.01)
    parts = {words: standard for words, standard, _ in found.parts}
    assert parts["zero: the board's stated limit"] == pytest.approx(1.01 * STATED.standard / 5.0)


def test_a_direct_gain_waits_for_a_zero_where_the_board_states_none() -> None:
    with pytest.raises(UnfitError, match="no limit for the zero of I; calibrate the zero first"):
        find_gain(CURRENT, stretch_of(level(0.0), level(5.0)), METER)


def test_true_gains_lie_inside_in_95_of_100_cases() -> None:
    """Monte-Carlo: gain, noise and the meter's own error drawn; the bounds are scipy's binomial."""
    draw, inside = np.random.default_rng(7), 0
    for seed in range(100):
        gain = draw.uniform(-0.02, 0.02)
        read = 5.0 + METER.standard * draw.standard_normal()
        reference = replace(METER, value=read)
        found = find_gain(
            CURRENT, stretch_of(level(0.0), sine(5.0, fault=Fault(gain=gain)), seed=seed, block=1000), reference
        )
        half = 1.96 * found.standard
        inside += abs(found.change - 1.0 / (1.0 + gain)) <= half
    low, high = stats.binom.ppf([0.001, 0.999], 100, 0.95)
    assert low <= inside <= high


def test_before_is_as_uncertain_as_the_board_states() -> None:
    limited = replace(CURRENT, gain=Part(0.01))
    stretch = stretch_of(level(0.0), sine(5.0), channels=(VOLTAGE, limited))
    found = find_gain(limited, stretch, METER)
    assert found.before.u95 == pytest.approx(1.96 * 0.05, rel=1e-3)
    assert found.after.u95 == pytest.approx(1.96 * METER.standard, rel=1e-3)


def refusal(row: np.ndarray, reference: Reference = METER, seed: int | None = None) -> str:
    with pytest.raises(UnfitError) as refused:
        find_gain(CURRENT, stretch_of(level(0.0), row, seed=seed), reference)
    return str(refused.value)


def test_too_little_of_the_range_is_refused_and_says_how_much_is_enough() -> None:
    assert refusal(sine(0.4)) == (
        "I reads 0.4 A, 5.7 % of its range; zero and noise weigh too much there, so take at least 0.71 A"
    )


def test_an_unsteady_signal_is_refused() -> None:
    swelling = sine(5.0) * np.linspace(1.0, 1.06, level(0.0).size)
    assert refusal(swelling).startswith("I was not steady: it varied by 1.6 %")


def test_a_clipped_signal_is_refused() -> None:
    assert refusal(np.clip(sine(8.0), -10.0, 10.0)).startswith("I clipped")


def test_a_mixture_is_refused_since_meters_differ_there() -> None:
    assert "3 A direct and 2 A alternating; meters differ" in refusal(level(3.0) + sine(2.0))


def test_a_distorted_wave_is_refused() -> None:
    assert "no sine: its harmonics are 30 % of it" in refusal(sine(5.0) + sine(1.5, hertz=150.0))


def test_a_wrong_unit_or_a_turned_sensor_is_named() -> None:
    wrong = replace(METER, value=5000.0, uncertainty=20.0)
    assert refusal(sine(5.0), wrong).endswith("check unit, range and turns of the wire")
    with pytest.raises(UnfitError, match="is the sensor turned round"):
        find_gain(ZEROED, stretch_of(level(0.0), level(-5.0), channels=(VOLTAGE, ZEROED)), METER)


@pytest.mark.parametrize(
    ("reference", "said"),
    [
        (Reference(0.0, 0.01, True, ""), "a number other than 0"),
        (Reference(float("nan"), 0.01, True, ""), "a number other than 0"),
        (Reference(5.0, 0.0, True, ""), "no meter is exact"),
        (Reference(5.0, -0.1, True, ""), "no meter is exact"),
        (Reference(5.0, 1e-12, True, ""), "± 1e-12 of 5 is finer than any bench meter"),
        (Reference(5.0, 2.0, True, ""), "± 2 of 5 is more than a fifth: no reference for a gain"),
    ],
)
def test_a_reference_that_cannot_be_is_refused(reference: Reference, said: str) -> None:
    assert said in refusal(sine(5.0), reference)
