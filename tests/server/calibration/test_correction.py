"""What an entry does to a channel, what is uncertain of it, how age widens it, and what is not used."""

from dataclasses import replace
from math import sqrt

import pytest

from server.calibration.correction import corrections_of
from server.calibration.entry import DAY_S, BoardCalibration, What
from server.quantities.beside import delay_beside
from server.stream.scaling import channel_of, groups_of
from tests.server.calibration.boards import LIMITED, MADE_UTC_S, entry

VOLTS, AMPS = LIMITED
WHOLE = BoardCalibration(
    "T-1",
    (
        entry(What.ZERO, AMPS, 0.01, 0.0002),
        entry(What.GAIN, AMPS, 1.02, 0.001),
        entry(What.ANGLE, AMPS, -30e-6, 1e-6),
    ),
)


def test_the_zero_is_taken_away_then_the_gain_multiplies() -> None:
    found, unused = corrections_of(WHOLE, LIMITED, MADE_UTC_S)
    group = groups_of(LIMITED, 1_000_000, None, found)[0]
    code = 5000
    assert group.offset is not None
    assert group.factor[1, 0] * code + group.offset[1, 0] == pytest.approx(1.02 * (code * 2e-4 - 0.01))
    assert (group.factor[0, 0], group.offset[0, 0]) == (VOLTS.scale, 0.0)
    assert unused == []


def test_the_channel_is_as_uncertain_as_its_calibration() -> None:
    found, _ = corrections_of(WHOLE, LIMITED, MADE_UTC_S)
    channel = channel_of(AMPS, 1_000_000, found[1])
    assert channel.gain is not None
    assert channel.gain.standard == pytest.approx(0.001 / 1.02)
    assert (channel.gain.rectangular, channel.gain.dof) == (False, 14.0)
    assert channel.gain.origin == "gain calibration of 2026-11-25 against bench meter 34"
    assert channel.offset_error is not None
    assert channel.offset_error.standard == pytest.approx(1.02 * 0.0002)
    assert channel.offset_limit == pytest.approx(2 * 1.02 * 0.0002)
    assert channel.delay_error is not None
    assert channel.delay_error.standard == pytest.approx(1e-6)
    assert channel.delay_error.origin.endswith("at 50 Hz")
    assert channel.delay_s == pytest.approx(-30e-6)
    assert channel.high == pytest.approx(1.02 * (32000 * 2e-4 - 0.01))


def test_what_is_not_calibrated_keeps_the_board_s_limit_or_is_not_known() -> None:
    found, _ = corrections_of(BoardCalibration("T-1", (entry(What.GAIN, AMPS, 1.02, 0.001),)), LIMITED, MADE_UTC_S)
    channel = channel_of(AMPS, 1_000_000, found[1])
    assert channel.offset_error is not None
    assert channel.offset_error.origin == "the board's stated limit"
    unstated = replace(AMPS, delay_limit_ns=None)
    assert channel_of(unstated, 1_000_000, found[1]).delay_error is None


def test_a_delay_found_against_a_voltage_shares_that_one_s_error() -> None:
    """JCGM 100, 5.2: what both are off by drops out between them, and counts against a third."""
    angle = replace(entry(What.ANGLE, AMPS, -30e-6, 1e-6), against="supply")
    found, _ = corrections_of(BoardCalibration("T-1", (angle,)), LIMITED, MADE_UTC_S)
    channel = channel_of(AMPS, 1_000_000, found[1])
    assert channel.skew is not None
    assert channel.delay_error is not None
    assert channel.skew.standard == pytest.approx(1e-6)
    assert channel.skew_from == VOLTS.index
    assert channel.delay_error.standard == pytest.approx(sqrt(1e-12 + 20e-6**2 / 3))
    assert 0 not in found


def test_where_the_voltage_states_no_limit_only_the_delay_beside_it_is_known() -> None:
    angle = replace(entry(What.ANGLE, AMPS, -30e-6, 1e-6), against="supply")
    unstated = replace(VOLTS, delay_limit_ns=None)
    found, _ = corrections_of(BoardCalibration("T-1", (angle,)), [unstated, AMPS], MADE_UTC_S)
    assert 0 not in found
    voltage, current = channel_of(unstated, 1_000_000), channel_of(AMPS, 1_000_000, found[1])
    assert (voltage.delay_error, current.delay_error) == (None, None)
    assert current.skew is not None
    assert current.skew.standard == pytest.approx(1e-6)
    other = channel_of(replace(AMPS, index=2), 1_000_000)
    assert delay_beside(voltage, current) == delay_beside(current, voltage) == current.skew
    assert delay_beside(voltage, other) is None
    assert delay_beside(current, other) is None


@pytest.mark.parametrize(
    ("years", "share"), [(0.0, 0.0), (1.0, 0.0), (1.25, 0.25), (1.5, 0.5), (2.0, 1.0), (30.0, 1.0), (-1.5, 0.5)]
)
def test_beyond_a_year_the_board_s_limit_comes_back_until_two_years(years: float, share: float) -> None:
    """The rule as it is stated in correction.py; of years before it was made too."""
    found, _ = corrections_of(WHOLE, LIMITED, MADE_UTC_S + years * 365 * DAY_S)
    part = found[1].gain_part
    assert part is not None
    its = 0.001 / 1.02
    assert part.standard == pytest.approx(sqrt(its**2 + (share * 0.01) ** 2 / 3), rel=1e-6)
    assert ("widened" in part.origin) == (share > 0.0)
    assert part.dof == pytest.approx(14.0 * (part.standard / its) ** 4)


def test_without_a_stated_limit_what_was_corrected_stands_for_it() -> None:
    unstated = replace(AMPS, gain_limit=None)
    calibration = BoardCalibration("T-1", (entry(What.GAIN, unstated, 1.02, 0.001),))
    found, _ = corrections_of(calibration, [VOLTS, unstated], MADE_UTC_S + 2 * 365 * DAY_S)
    assert found[1].gain_part is not None
    assert found[1].gain_part.standard == pytest.approx(sqrt((0.001 / 1.02) ** 2 + 0.02**2 / 3))


def test_the_age_limit_is_the_file_s() -> None:
    found, _ = corrections_of(replace(WHOLE, age_limit_days=3650.0), LIMITED, MADE_UTC_S + 5 * 365 * DAY_S)
    assert found[1].gain_part is not None
    assert "widened" not in found[1].gain_part.origin


def test_a_channel_that_was_renamed_is_not_calibrated_and_it_is_said() -> None:
    renamed = replace(AMPS, name="I motor", place="motor")
    found, unused = corrections_of(WHOLE, [VOLTS, renamed], MADE_UTC_S)
    assert found == {}
    assert unused[0] == (
        "The zero calibration of line of 2026-11-25 is not used: this board has no such channel, it has supply, I motor"
    )


def test_a_channel_that_is_described_otherwise_is_not_calibrated_and_it_is_said() -> None:
    found, unused = corrections_of(WHOLE, [VOLTS, replace(AMPS, scale=3e-4)], MADE_UTC_S)
    assert found == {}
    assert len(unused) == 3
    assert "describes this channel otherwise than it did then; calibrate it again" in unused[0]


def test_what_no_sensor_can_be_off_by_is_not_used() -> None:
    wild = BoardCalibration("T-1", (entry(What.ZERO, AMPS, 1e200, 0.1), entry(What.ANGLE, AMPS, 5.0, 0.1)))
    found, unused = corrections_of(wild, LIMITED, MADE_UTC_S)
    assert found == {}
    assert all("is more than a sensor can be off by" in each for each in unused)
