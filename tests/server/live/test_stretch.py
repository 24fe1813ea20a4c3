"""Numbers between two points, against numpy on the samples and the wave itself, and their ± against random cases."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from server.live.stretch import line_readings, power_readings
from server.live.wave import Wave
from server.readings import Confidence, Reading
from tests.server.live.kept_waves import CURRENT, FIRST_S, GAIN, NOISE, OFFSET, RATE, VOLTAGE, supply, wave


def told(readings: list[Reading]) -> dict[str, float]:
    return {each.key: each.value for each in readings if isinstance(each.value, float)}


def all_readings(volts: Wave, amps: Wave, from_s: float, to_s: float) -> list[Reading]:
    lines = line_readings(volts, "", from_s, to_s) + line_readings(amps, "", from_s, to_s)
    return lines + power_readings(volts, amps, from_s, to_s)


def test_between_two_samples_they_are_those_of_numpy() -> None:
    volts, amps = supply()
    first, last = 137, 616
    ends = FIRST_S + first / RATE, FIRST_S + last / RATE
    inside, seconds = slice(first, last + 1), (last - first) / RATE

    def mean(values: np.ndarray) -> float:
        return float(np.trapezoid(values[inside], dx=1 / RATE) / seconds)

    found = told(line_readings(wave(volts), "", *ends) + power_readings(wave(volts), wave(amps, CURRENT), *ends))
    assert found["voltage_rms_v"] == pytest.approx(np.sqrt(mean(volts**2)), rel=1e-12)
    assert found["voltage_mean_v"] == pytest.approx(mean(volts), rel=1e-9)
    assert found["active_power_w"] == pytest.approx(mean(volts * amps), rel=1e-12)
    assert found["energy_j"] == pytest.approx(mean(volts * amps) * seconds, rel=1e-9)


def test_over_whole_cycles_from_between_samples_on_they_are_those_of_the_wave() -> None:
    volts, amps = supply()
    ends = FIRST_S + 0.01234567, FIRST_S + 0.01234567 + 0.06
    found = told(
        line_readings(wave(amps, CURRENT), "", *ends) + power_readings(wave(volts), wave(amps, CURRENT), *ends)
    )
    assert found["current_rms_a"] == pytest.approx(np.sqrt((2.0**2 + 0.4**2) / 2 + 0.1**2), rel=1e-5)
    assert found["current_mean_a"] == pytest.approx(0.1, abs=2e-5)
    assert found["active_power_w"] == pytest.approx(325.0 / 2 * 2.0 * np.cos(np.radians(30.0)), rel=1e-5)


def test_channels_with_delays_of_their_own_are_brought_together() -> None:
    volts, amps = supply()
    late = wave(amps, CURRENT, FIRST_S + 0.37 / RATE)  # what came at the same place was taken later
    ends = FIRST_S + 0.01, FIRST_S + 0.07
    moved = power_readings(wave(volts), late, *ends)[0].value
    lag = np.radians(30.0) + 2 * np.pi * 50.0 * 0.37 / RATE
    assert moved == pytest.approx(325.0 * np.cos(lag), rel=1e-4)


def test_the_truth_lies_inside_as_often_as_is_told() -> None:
    """400 boards, each off within its limits: 95 % with room for chance, and not wider than half as much again."""
    draw = np.random.default_rng(11)
    clean = supply()
    ends = FIRST_S + 0.0112, FIRST_S + 0.0437
    waves = wave(clean[0]), wave(clean[1], CURRENT)
    truth = told(
        line_readings(waves[0], "", *ends) + line_readings(waves[1], "", *ends) + power_readings(*waves, *ends)
    )
    inside: dict[str, list[bool]] = {key: [] for key in truth}
    off: dict[str, list[float]] = {key: [] for key in truth}
    wide: dict[str, float] = {}
    for _ in range(400):
        made: list[Wave] = []
        for channel, values in zip((VOLTAGE, CURRENT), clean, strict=True):
            gain, offset = 1 + draw.uniform(-GAIN, GAIN), draw.uniform(-OFFSET, OFFSET) * channel.high
            late_s = draw.uniform(-2e-6, 2e-6)
            noise = draw.normal(0.0, NOISE * channel.high, values.size)
            made.append(wave(values * gain + offset + noise, channel, FIRST_S + late_s))
        for each in all_readings(made[0], made[1], *ends):
            assert each.uncertainty is not None
            assert isinstance(each.value, float)
            inside[each.key].append(each.uncertainty.low <= truth[each.key] <= each.uncertainty.high)
            off[each.key].append(abs(each.value - truth[each.key]))
            wide[each.key] = each.uncertainty.half
    for key, hits in inside.items():
        assert np.mean(hits) > 0.93, key
        assert wide[key] < 1.5 * np.quantile(off[key], 0.95), key


def test_missing_samples_between_the_points_leave_no_number() -> None:
    volts, amps = supply()
    volts[300:304] = np.nan
    readings = line_readings(wave(volts), "", FIRST_S + 0.02, FIRST_S + 0.04)
    readings += power_readings(wave(volts), wave(amps, CURRENT), FIRST_S + 0.02, FIRST_S + 0.04)
    assert {each.reason for each in readings} == {"4 samples are missing between the points"}
    assert all(each.value is None for each in readings)
    beside = line_readings(wave(volts), "", FIRST_S + 0.04, FIRST_S + 0.06)
    assert all(each.confidence is Confidence.GOOD for each in beside)


def test_a_clipped_stretch_is_doubtful_and_one_outside_of_what_is_kept_absent() -> None:
    volts = wave(supply()[0])
    volts.clipped[250] = True
    (rms, _) = line_readings(volts, "L1", FIRST_S + 0.02, FIRST_S + 0.04)
    assert (rms.confidence, rms.reason) == (Confidence.DOUBTFUL, "c0 reached the end of its range")
    assert rms.uncertainty is None
    (gone, _) = line_readings(volts, "L1", FIRST_S + 0.02, FIRST_S + 0.2)
    assert (gone.id, gone.reason) == ("voltage_rms_v.L1", "a point is outside of what was kept")


@pytest.mark.parametrize(
    "unstated", [{"noise_rms": None}, {"gain": None}, {"offset_error": None}, {"delay_error": None}]
)
def test_of_a_channel_that_does_not_state_its_limits_there_is_a_number_and_no_interval(
    unstated: dict[str, Any],
) -> None:
    said = replace(VOLTAGE, **unstated)
    volts, amps = supply()
    ends = FIRST_S + 0.02, FIRST_S + 0.04
    readings = line_readings(wave(volts, said), "", *ends)
    readings += power_readings(wave(volts, said), wave(amps, CURRENT), *ends)
    assert all(each.confidence is Confidence.GOOD and each.uncertainty is None for each in readings)
