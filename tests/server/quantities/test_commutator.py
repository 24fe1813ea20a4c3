"""Commutator noise: what is noise counts, what is a line does not; against white noise of a known size."""

from dataclasses import replace
from math import pi, sqrt
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import welch

from server.motors import motor_type
from server.readings import Confidence, Reading
from server.samples import Part
from tests.server.bench_stories import told
from tests.server.quantities.windows import current, number, read, window

RATE, COUNT = 20_000.0, 4000
BAND = sqrt(5000.0 / 10_000.0)  # from 3 to 8 kHz of 10 kHz: of white noise, half its square
MOTOR = motor_type("permanent_magnet_dc")


def measured(values: NDArray[np.float64], rate_hz: float = RATE, **said: Any) -> Reading:
    channel = replace(current("motor", 50.0), noise_rms=1e-4, **said)
    return read(window([channel], [values], rate_hz), MOTOR)["commutator_noise_a"]


def ripple(share: float) -> NDArray[np.float64]:
    """4 A with ripple of 12 bars at 3540 r/min and all its multiples, and ten lines of the shaft."""
    t = np.arange(COUNT) / RATE
    values = np.full(COUNT, 4.0)
    for order in [*range(12, 170, 12), *range(1, 11)]:
        values += share / sqrt(order) * np.cos(2 * pi * 59.0 * order * t + order)
    return values


@pytest.mark.parametrize("seed", range(5))
def test_white_noise_reads_its_share_of_the_band(seed: int) -> None:
    noise = 0.05 * np.random.default_rng(seed).normal(size=COUNT)
    value = measured(4.0 + noise).value
    assert value == pytest.approx(0.05 * BAND, rel=0.1)
    hertz, density = welch(noise, RATE, "boxcar", COUNT)
    inside = (hertz >= 3000) & (hertz < 8000)
    assert value == pytest.approx(sqrt(density[inside].sum() * RATE / COUNT), rel=0.1)


def test_ripple_and_its_multiples_are_left_out() -> None:
    noise = 0.01 * np.random.default_rng(1).normal(size=COUNT)
    alone = measured(4.0 + noise).value
    assert isinstance(alone, float)
    assert measured(ripple(0.4) + noise).value == pytest.approx(alone, rel=0.1)  # of lines of up to 0.1 A in the band


def test_the_truth_lies_inside_the_interval() -> None:
    draw = np.random.default_rng(3)
    stated: dict[str, object] = {"gain": Part(2e-3), "offset_error": Part(1e-4), "delay_error": Part(1e-7)}
    inside = []
    for _ in range(60):
        found = measured(4.0 + 0.02 * draw.normal(size=COUNT), RATE, **stated)
        assert found.uncertainty is not None
        inside.append(found.uncertainty.low <= 0.02 * BAND <= found.uncertainty.high)
    assert np.mean(inside) > 0.87


def test_what_the_board_makes_itself_is_said_to_be_below_what_can_be_told() -> None:
    quiet = measured(4.0 + 1e-4 * np.random.default_rng(4).normal(size=COUNT))
    assert quiet.least == pytest.approx(1.5e-4 * BAND)


def test_where_the_band_is_not_carried_it_is_absent_and_other_motors_have_none() -> None:
    slow = measured(np.full(2000, 4.0), 10_000.0)
    assert slow.confidence is Confidence.ABSENT
    assert "carries up to 4500 Hz" in slow.reason
    assert "5000 Hz" in measured(np.full(COUNT, 4.0), corner_high_hz=5000.0).reason
    made = window([current("line")], [np.full(COUNT, 4.0)])
    assert "commutator_noise_a" not in read(made, motor_type("shaded_pole"))


def test_worn_brushes_are_louder_than_new_ones() -> None:
    # Of the software board, an independent model: 20 mV of a new brush, 0.5 V of a worn one (no published figure).
    noise = told("bilge_pump", "worn brushes and a bad bar")
    new, worn = (noise.reading("commutator_noise_a", board_s) for board_s in (3.8, 13.8))
    assert number({"worn": worn}, "worn") > 5.0 * number({"new": new}, "new")
