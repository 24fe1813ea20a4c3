"""Inrush: highest peak and half-cycle RMS, of sines, of any values, and of an open recording of a real start."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from firmware_protocol import Role
from server.duty import Bound
from server.duty.inrush import Inrush, figures, highest_rms, seen
from server.samples import Channel, Part

_CHANNEL = Channel(0, Role.CURRENT, "I", "line", "A", -100.0, 100.0, noise_rms=0.01, gain=Part(0.005 / 3**0.5))


def test_half_a_cycle_of_a_sine_that_decays_has_the_rms_of_its_first_half_cycle() -> None:
    at = np.arange(20_000) / 20_000.0
    wave = 10.0 * np.exp(-3.0 * at) * np.sin(2.0 * np.pi * 50.0 * at)
    it = seen(Inrush(), wave, 200, False, False)
    first = np.sqrt(np.mean(np.square(wave[:200])))
    assert it.half_cycle_a == pytest.approx(first, rel=1e-3)
    assert it.half_cycle_a >= first * (1.0 - 1e-12)  # wherever it begins: none is higher
    assert it.peak_a == wave.max()


@given(arrays(np.float64, st.integers(1, 60), elements=st.floats(-1e3, 1e3)), st.integers(1, 20))
def test_any_values_have_the_highest_rms_that_looking_at_each_stretch_finds(values: np.ndarray, samples: int) -> None:
    stretches = [values[k : k + samples] for k in range(len(values) - samples + 1)]
    found = highest_rms(values, samples)
    if not stretches:
        assert np.isnan(found)
        return
    assert found == pytest.approx(max(np.sqrt(np.mean(np.square(each))) for each in stretches), rel=1e-6, abs=2e-3)


def test_a_start_with_missing_or_clipped_samples_has_figures_that_are_at_least_so() -> None:
    wave = np.array([0.0, 5.0, np.nan, -7.0])
    for missing, clipped, words in ((True, False, "missing"), (False, True, "end of its range")):
        told = figures(seen(Inrush(), wave, 2, missing, clipped), _CHANNEL)
        assert told["inrush_peak_a"].bound is Bound.LEAST
        assert words in told["inrush_peak_a"].reason
        assert told["inrush_peak_a"].value == 7.0


def test_a_peak_is_known_as_well_as_gain_and_noise_of_its_channel_say() -> None:
    told = figures(seen(Inrush(), np.array([0.0, 50.0]), 1, False, False), _CHANNEL)["inrush_peak_a"]
    assert told.half == pytest.approx(1.96 * np.hypot(0.005 / 3**0.5 * 50.0, 0.01), rel=1e-3)
    assert figures(Inrush(), _CHANNEL)["inrush_peak_a"].value is None


@pytest.mark.parametrize("load", ["fan", "fridge-cycles-1", "kettle", "vacuum-cycles-1"])
def test_real_starts_have_the_peak_and_rms_of_their_cycles(load: str, recordings: Path) -> None:
    # plaid-*: R. Medico and others, Scientific Data 7 (2020) 49 (CC BY 4.0); single cycles of 60 Hz
    name = load if "cycles" in load else f"{load}-cycles"
    data = np.load(recordings / f"plaid-{name}.npz")
    half_cycle = round(float(data["sample_rate_hz"]) / 120.0)
    starts = data["current_a"][data["stage"] == "start"]
    assert starts.shape[0]
    for cycle in starts:
        it = seen(Inrush(), np.tile(cycle, 3), half_cycle, False, False)
        assert it.peak_a == np.abs(cycle).max()
        halves = [np.sqrt(np.mean(np.square(each))) for each in np.array_split(cycle, 2)]
        assert max(halves) <= it.half_cycle_a * 1.01
        assert it.half_cycle_a <= np.sqrt(2.0) * np.sqrt(np.mean(np.square(cycle))) * 1.01
