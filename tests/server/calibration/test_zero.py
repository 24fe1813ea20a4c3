"""Zero: the mean with nothing connected, how sure it is, and what is refused."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy import stats

from firmware_protocol import Role
from server.calibration.found import UnfitError
from server.calibration.zero import find_zero
from tests.server.calibration.measured import CURRENT, STATED, VOLTAGE, level, sine, stretch_of


def test_the_zero_is_the_mean_of_the_last_three_seconds() -> None:
    found = find_zero(CURRENT, stretch_of(level(0.0), level(0.031)))
    assert found.change == pytest.approx(0.031)
    assert found.before.value == pytest.approx(0.031)
    assert (found.after.value, found.wanted.value) == (0.0, 0.0)


def test_the_true_offset_lies_inside_its_interval_in_95_of_100_cases() -> None:
    """JCGM 100, 4.2.3 and annex G: scatter of 15 means, coverage by Student's t of 14; the bounds are scipy's."""
    errors, halves = [], []
    for seed in range(200):
        found = find_zero(CURRENT, stretch_of(level(0.0), level(0.02), seed=seed, block=1000))
        errors.append(abs(found.change - 0.02))
        halves.append(found.after.u95 or 0.0)
    low, high = stats.binom.ppf([0.001, 0.999], 200, 0.95)
    assert low <= sum(map(float.__le__, errors, halves)) <= min(high, 199)
    assert np.mean(halves) < 1.25 * np.quantile(errors, 0.95)  # nor wider than it must be


def test_the_scatter_s_part_is_the_standard_deviation_of_the_mean() -> None:
    """As scipy computes it (stats.sem)."""
    stretch = stretch_of(level(0.0), level(0.02), seed=3)
    (_, standard, dof), *_ = find_zero(CURRENT, stretch).parts
    assert standard == pytest.approx(float(stats.sem(stretch.seen(1).mean)))
    assert dof == 14


def test_a_board_without_noise_is_sure_to_half_a_step_only() -> None:
    """JCGM 100, F.2.2.1: a step's width over the root of 12; here 2 * sqrt(12) = 6.93 to 95 %."""
    found = find_zero(replace(CURRENT, step=0.004), stretch_of(level(0.0), level(0.02)))
    assert found.standard == pytest.approx(0.004 / np.sqrt(12.0))


def test_a_drift_that_is_clear_of_the_scatter_is_a_part() -> None:
    """Anywhere between its ends: the width over the root of 12 (JCGM 100, 4.3.7); the slope as scipy fits it."""
    drifting = np.linspace(0.02, 0.024, level(0.0).size)
    stretch = stretch_of(level(0.0), drifting, seed=1)
    parts = {words: standard for words, standard, _ in find_zero(CURRENT, stretch).parts}
    slope = stats.linregress(np.arange(15), stretch.seen(1).mean).slope
    assert parts["drift over three seconds"] == pytest.approx(14 * slope / np.sqrt(12.0))
    steady = find_zero(CURRENT, stretch_of(level(0.0), level(0.02), seed=1)).parts
    assert [words for words, _, _ in steady] == ["scatter over three seconds"]


def test_what_it_was_off_by_before_is_the_board_s_limit_or_not_known() -> None:
    stretch = stretch_of(level(0.0), level(0.02))
    assert find_zero(CURRENT, stretch).before.u95 is None
    limited = replace(CURRENT, offset_error=STATED)
    assert find_zero(limited, stretch_of(level(0.0), level(0.02), channels=(VOLTAGE, limited))).before.u95 == (
        pytest.approx(STATED.standard * 1.96, rel=1e-3)
    )


def refusal(stretch_rows: tuple[np.ndarray, np.ndarray], **changes: Any) -> str:
    channel = replace(CURRENT, **changes)
    with pytest.raises(UnfitError) as refused:
        find_zero(channel, stretch_of(*stretch_rows, channels=(VOLTAGE, channel)))
    return str(refused.value)


def test_a_signal_is_no_zero() -> None:
    assert refusal((level(0.0), sine(0.3))) == (
        "I is not at rest: it varies by 0.3 A RMS, and its noise is stated as 0.002 A; disconnect it, then try again"
    )
    unstated = refusal((level(0.0), sine(0.3)), noise_rms=None)
    assert (
        unstated
        == "I is not at rest: it varies by 0.3 A RMS, and that is more than noise; disconnect it, then try again"
    )


def test_direct_current_is_no_zero() -> None:
    assert refusal((level(0.0), level(1.2))) == (
        "I reads 1.2 A, and the board states 0.05 A at most; is something connected? Disconnect it, then try again"
    )
    assert "that is much for a zero" in refusal((level(0.0), level(1.2)), offset_limit=None)


def test_a_clipped_channel_has_no_zero() -> None:
    assert refusal((level(0.0), level(10.0))) == "I clipped: its range is -10 to 10 A; take less, then try again"


def test_a_sensor_that_passes_no_direct_current_has_no_zero() -> None:
    said = refusal((level(0.0), level(0.0)), ac_coupled=True)
    assert said == "I passes no direct current: it has no zero that could be set"


def test_a_temperature_has_no_zero() -> None:
    assert "neither voltage nor current" in refusal((level(0.0), level(0.0)), role=Role.TEMPERATURE)


def test_a_zero_that_still_drifts_is_refused() -> None:
    drifting = np.linspace(0.0, 0.03, level(0.0).size)
    assert refusal((level(0.0), drifting), noise_rms=0.01).startswith("I moved by 0.026 A in three seconds; let the")


def test_two_seconds_are_too_few() -> None:
    stretch = stretch_of(level(0.0), level(0.0))
    other = replace(CURRENT, index=7)
    with pytest.raises(UnfitError, match="three seconds of I without a gap are needed"):
        find_zero(other, stretch)
