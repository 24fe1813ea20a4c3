"""The delay of one channel beside another: stated, found by a calibration, and used at another frequency."""

from cmath import exp
from dataclasses import replace
from math import degrees, hypot, pi, sqrt

import numpy as np
import pytest

from server.config import Plate
from server.motors.permanent_split_capacitor import PERMANENT_SPLIT_CAPACITOR
from server.quantities.beside import at_frequency, delay_beside
from server.readings import Reading, Uncertainty
from server.samples import Channel, Part
from tests.server.quantities.windows import current, read, voltage, waves, window
from tests.server.signals.slow import series

STATED = Part(20e-6 / sqrt(3.0))
FOUND = Part(1e-6, rectangular=False, dof=9.0, origin="angle calibration of 2026-11-25")


def known(channel: Channel, index: int) -> Channel:
    nothing = Part(0.0)
    return replace(channel, index=index, gain=nothing, offset_error=nothing, delay_error=STATED)


VOLTS, AMPS = known(voltage(), 0), known(current(), 1)
CALIBRATED = replace(AMPS, skew=FOUND, skew_from=0, turned_s=-40e-6, turned_hz=50.0)


def test_what_two_channels_state_is_independent() -> None:
    late = delay_beside(VOLTS, AMPS)
    assert late is not None
    assert late.standard == pytest.approx(hypot(STATED.standard, STATED.standard))
    assert late.rectangular
    assert delay_beside(VOLTS, replace(AMPS, delay_error=None)) is None


def test_what_was_found_between_two_holds_in_both_directions_and_beside_no_third() -> None:
    assert delay_beside(VOLTS, CALIBRATED) == delay_beside(CALIBRATED, VOLTS) == FOUND
    third = delay_beside(replace(VOLTS, index=7), CALIBRATED)
    assert third is not None
    assert third.standard > 10 * FOUND.standard


def test_two_that_were_found_against_the_same_voltage_are_known_beside_each_other() -> None:
    late = delay_beside(CALIBRATED, replace(CALIBRATED, index=2))
    assert late is not None
    assert late.standard == pytest.approx(sqrt(2.0) * FOUND.standard)
    assert late.dof == pytest.approx(2 * 9.0)  # Welch and Satterthwaite: JCGM 100, G.4.1


def test_a_channel_beside_itself_is_not_late() -> None:
    assert delay_beside(replace(VOLTS, delay_error=None), replace(VOLTS, delay_error=None)) == Part(0.0)


@pytest.mark.parametrize(
    ("hertz", "share"), [(50.0, 0.0), (50.9, 0.0), (100.0, 0.75), (25.0, 3.0), (60.0, 1 - 1 / 1.44)]
)
def test_at_another_frequency_all_counts_that_parts_a_filter_from_a_clamp(hertz: float, share: float) -> None:
    """The rule of beside.py: a delay stays, an angle that grows as the frequency falls goes by its square."""
    skew = at_frequency(CALIBRATED, hertz).skew
    assert skew is not None
    assert skew.standard == pytest.approx(hypot(1e-6, share * 40e-6 / sqrt(3.0)))
    assert ("used at" in skew.origin) == (share > 0.0)


@pytest.mark.parametrize("clamp", [True, False])
@pytest.mark.parametrize("hertz", [20.0, 35.0, 80.0])
def test_an_angle_found_at_50_hz_holds_the_truth_at_others_for_a_clamp_and_for_a_filter(
    clamp: bool, hertz: float
) -> None:
    """A clamp leads by atan(f1 / f) (a transformer with its magnetising inductance), a filter lags by 2 pi f tau."""
    lead_50, lead = (np.arctan(2.0 / f) if clamp else -2 * pi * f * 40e-6 for f in (50.0, hertz))
    amps = replace(CALIBRATED, turned_s=float(-lead_50 / (2 * pi * 50.0)), delay_s=float(-lead_50 / (2 * pi * 50.0)))
    found = angles(amps, hertz, float(lead))
    for key, true in (("current_angle_deg", 0.0), ("phase_angle_deg", 0.0)):
        sure = found[key].uncertainty
        assert isinstance(sure, Uncertainty)
        assert sure.low < true < sure.high
        assert sure.half < 3.0 * degrees(abs(lead_50)) * (50.0 / hertz)


def test_an_arrow_of_a_calibrated_current_is_as_sure_as_the_phase_angle() -> None:
    found = angles(CALIBRATED, 50.0, -2 * pi * 50.0 * -40e-6)
    arrow, phase = found["current_angle_deg"].uncertainty, found["phase_angle_deg"].uncertainty
    assert arrow is not None
    assert phase is not None
    assert arrow.half == pytest.approx(phase.half, rel=0.02)
    assert arrow.half < 0.1


def angles(amps: Channel, hertz: float, lead: float) -> dict[str, Reading]:
    rows = waves(hertz, series({1: 230.0 + 0j}), series({1: 2.0 * exp(1j * lead)}))
    noise = np.random.default_rng(4).standard_normal((2, rows[0].size)) * [[0.01], [1e-4]]
    noisy = [row + each for row, each in zip(rows, noise, strict=True)]
    return read(window([VOLTS, amps], noisy), PERMANENT_SPLIT_CAPACITOR, Plate())
