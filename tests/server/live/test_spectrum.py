"""The spectrum that a page asks for: heights, marks, and why there is none."""

from math import sqrt

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import periodogram

from server.live.pair import Line
from server.live.ring import Ring
from server.live.spectrum import Spectrum, spectrum_of, spectrum_record
from server.motors import PredictedLine
from tests.server.live.blocks import block

RATE = 20_000.0


def line(
    values: NDArray[np.float64], missing: NDArray[np.bool_] | None = None, clipped: NDArray[np.bool_] | None = None
) -> Line:
    made = block(np.stack((values, values)), missing=missing, clipped=clipped)
    ring = Ring(made)
    ring.take(made)
    return Line(ring, 1)


def sine(hertz: float, rms: float, samples: int = 20_000) -> NDArray[np.float64]:
    wave: NDArray[np.float64] = sqrt(2) * rms * np.sin(2 * np.pi * hertz * np.arange(samples) / RATE + 0.3)
    return wave


def predicted(hertz: float) -> PredictedLine:
    return PredictedLine(hertz, "a line", "x", "made up")


def found(line: Line) -> Spectrum:
    spectrum = spectrum_of(line)
    assert isinstance(spectrum, Spectrum)
    return spectrum


@pytest.mark.parametrize("hertz", [50.0, 50.3, 49.75, 612.6])
def test_a_sine_is_as_high_as_its_rms_wherever_it_stands(hertz: float) -> None:
    spectrum = found(line(sine(hertz, 2.0) + 0.7))
    assert spectrum.rms.max() == pytest.approx(2.0, rel=0.04)
    assert spectrum.rms.argmax() * spectrum.step_hz == pytest.approx(hertz, abs=0.3)
    assert spectrum.rms[0] < 0.001  # the mean is no line


def test_it_is_scipys_periodogram() -> None:
    values = np.random.default_rng(1).normal(size=20_000).astype(np.float32).astype(np.float64)
    weights = 1.0 - np.cos(2 * np.pi * np.arange(20_000) / 20_000)
    _, power = periodogram(
        values - (values @ weights) / 20_000, RATE, "hann", 40_000, detrend=False, scaling="spectrum"
    )
    assert found(line(values)).rms[1:-1] == pytest.approx(np.sqrt(power)[1:-1], rel=1e-5, abs=1e-8)


def test_a_weak_line_beside_the_supply_is_marked_as_standing_out_and_an_empty_place_is_not() -> None:
    noise = np.random.default_rng(2).normal(0.0, 1e-3, 20_000)
    here = found(line(sine(50.3, 2.0) + sine(612.6, 0.01) + noise))
    mark = here.mark(predicted(612.3))
    assert mark["stands_out"] is True
    assert mark["rms"] == pytest.approx(0.01, rel=0.1)
    assert here.mark(predicted(333.3))["stands_out"] is False


def test_the_flank_of_a_greater_line_is_no_line() -> None:
    here = found(line(sine(50.0, 2.0) + np.random.default_rng(3).normal(0.0, 1e-3, 20_000)))
    assert here.mark(predicted(48.6))["stands_out"] is False
    assert here.mark(predicted(51.4))["stands_out"] is False
    assert here.mark(predicted(50.1))["stands_out"] is True


def test_every_column_holds_its_highest_line() -> None:
    record = spectrum_record(line(sine(50.0, 2.0) + sine(730.0, 0.2)), 1000.0, 100, [predicted(730.0)], 50.0)
    heights = record["rms"]
    assert isinstance(heights, list)
    assert len(heights) == 100
    assert heights[5] == pytest.approx(2.0, rel=0.04)
    assert heights[73] == pytest.approx(0.2, rel=0.04)
    assert record["fundamental_rms"] == pytest.approx(2.0, rel=0.04)
    assert record["resolution_hz"] == 2.0


def test_the_stretch_behind_a_gap_is_taken_if_it_is_long_enough() -> None:
    gone = np.zeros(20_000, dtype=np.bool_)
    gone[9000:9100] = True
    assert found(line(sine(50.0, 2.0), missing=gone)).rms.max() == pytest.approx(2.0, rel=0.04)
    gone[17_000] = True
    said = "needs 0.2 s of samples without a gap, 0.15 s so far"
    assert spectrum_of(line(sine(50.0, 2.0), missing=gone)) == said


def test_of_a_clipped_channel_there_is_none() -> None:
    clipped = np.zeros((2, 20_000), dtype=np.bool_)
    clipped[1, 15_000] = True
    record = spectrum_record(line(sine(50.0, 2.0), clipped=clipped), 1000.0, 100, [], None)
    assert "end of its range" in str(record["reason"])
    assert "rms" not in record
