"""A tiny board that is off by a known gain, offset and delay, and what calibrates it."""

from dataclasses import replace
from datetime import UTC, datetime

from firmware_protocol import ChannelDescription
from server.calibration.entry import BoardCalibration, Entry, What, stated
from server.calibration.text import calibration_text
from tests.server.tiny_board import CURRENT, VOLTAGE, TinyBoard

MADE_UTC_S = 1_795_615_000.0  # five minutes before the streams of the tests
LIMITED = tuple(
    replace(each, gain_limit=0.01, offset_limit_codes=20.0, delay_limit_ns=20_000) for each in (VOLTAGE, CURRENT)
)
BOARD = TinyBoard(channels=LIMITED)
RUNNING = ((0.2, 0.0, 0.0, 0.0), (0.4, 230.0, 1.5, 1400.0), (5.0, 230.0, 1.0, 1400.0))


def entry(what: What, said: ChannelDescription, value: float, standard: float, made_utc_s: float = MADE_UTC_S) -> Entry:
    made = datetime.fromtimestamp(made_utc_s, UTC)
    return Entry(
        what, stated(said), made, "bench meter 34", value, standard, 14.0, 50.0 if what is What.ANGLE else None
    )


def gained(value: float, serial: str = "T-1", made_utc_s: float = MADE_UTC_S) -> BoardCalibration:
    return BoardCalibration(serial, (entry(What.GAIN, LIMITED[1], value, 0.001, made_utc_s),))


def text(calibration: BoardCalibration) -> str:
    return calibration_text(calibration.holding)
