"""Which calibration a recorded run is computed with. Reads what is held in memory."""

from enum import StrEnum

from server.calibration.entry import BoardCalibration
from server.calibration.files import CalibrationFiles


class Which(StrEnum):
    """That of the run, the one kept now, or none: the board's own word."""

    THEN = "then"
    TODAY = "today"
    NONE = "none"


class NoneKeptError(Exception):
    """Of this board no calibration is kept; the text says so for a person."""


def instead(which: Which, serial: str, files: CalibrationFiles) -> dict[str, BoardCalibration] | None:
    """What takes the place of the calibrations in a run of this board, by serial number; None: nothing does.

    Raises NoneKeptError, and the ConfigError of a file that cannot be used.
    """
    if which is not Which.TODAY:
        return None if which is Which.THEN else {}
    kept = files.of(serial).holding
    if not kept.entries:
        whose = f"board {serial}" if serial else "a board without a serial number"
        raise NoneKeptError(f"No calibration of {whose} is kept today, so this run cannot be played with it.")
    return {serial: kept}
