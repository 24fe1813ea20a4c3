"""What a person is told of each channel's calibration, and its history."""

from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

from firmware_protocol import Role
from server.calibration.entry import DAY_S, BoardCalibration, What
from server.calibration.status import channel_records
from tests.server.calibration.boards import LIMITED, MADE_UTC_S, entry
from tests.server.tiny_board import HOUSING

VOLTS, AMPS = LIMITED
WHOLE = BoardCalibration("T-1", (entry(What.GAIN, AMPS, 1.02, 0.001),))


def words(calibration: BoardCalibration, now_utc_s: float = MADE_UTC_S, **changes: Any) -> dict[str, str]:
    said = replace(AMPS, **changes)
    (record,) = channel_records(calibration, [said], [said], now_utc_s)
    told = record["words"]
    assert isinstance(told, dict)
    return told


def test_what_is_not_calibrated_has_the_stated_limit_or_an_unknown_uncertainty() -> None:
    none = BoardCalibration("T-1")
    assert words(none)["gain"] == "not calibrated: the board's stated limit holds"
    unstated = words(none, gain_limit=None)["gain"]
    assert unstated == "not calibrated: the board states no limit, so its ± is not known"


def test_what_holds_is_told_with_its_date_and_reference_and_that_it_is_old() -> None:
    assert words(WHOLE)["gain"] == "2026-11-25 against bench meter 34"
    old = words(WHOLE, MADE_UTC_S + 550 * DAY_S)["gain"]
    assert old == "2026-11-25 against bench meter 34; 1.5 years old, so ± is wider: calibrate it again"


def test_what_the_board_describes_otherwise_now_is_not_used() -> None:
    assert words(WHOLE, scale=3e-4)["gain"].startswith("not used: the board describes this channel otherwise")


def test_only_currents_have_an_angle_and_uneven_channels_nothing() -> None:
    told: list[dict[str, Any]] = channel_records(WHOLE, [VOLTS, AMPS, HOUSING], [VOLTS, AMPS, HOUSING], MADE_UTC_S)
    assert [list(each["words"]) for each in told] == [["zero", "gain"], ["zero", "gain", "angle"]]


def test_role_and_place_are_those_that_hold_and_the_calibration_stays_with_the_board_s_own_channel() -> None:
    set_by_hand = replace(AMPS, role=Role.VOLTAGE, place="L1")
    (record,) = channel_records(WHOLE, [AMPS], [set_by_hand], MADE_UTC_S)
    assert (record["role"], record["place"]) == ("voltage", "L1")
    assert record["words"] == {
        "zero": "not calibrated: the board's stated limit holds",
        "gain": "2026-11-25 against bench meter 34",
    }


def test_the_history_is_told_the_newest_first_with_what_was_undone() -> None:
    undone = replace(WHOLE.entries[0], value=1.03, undone=datetime.fromtimestamp(MADE_UTC_S + 60.0, UTC))
    calibration = replace(WHOLE, entries=(*WHOLE.entries, undone))
    (record,) = channel_records(calibration, [AMPS], [AMPS], MADE_UTC_S)
    entries = record["entries"]
    assert isinstance(entries, list)
    assert [(each["value"], each["holds"]) for each in entries] == [(1.03, False), (1.02, True)]
    assert entries[0]["undone_utc_s"] == MADE_UTC_S + 60.0
