"""A calibration file changed as a person would: what stands there stays, comments and all. Pure.

The result is read back before it is used; what cannot be changed so is refused.
"""

from server.calibration.entry import BoardCalibration, Entry
from server.calibration.text import ENTRY, calibration_text, entry_lines, entry_places, moment, parse_calibration
from server.config import ConfigError


def added(text: str, file: str, calibration: BoardCalibration) -> str:
    """The text, which has all entries but the last, with that one behind them. Raises ConfigError."""
    changed = "\n".join([text.rstrip("\r\n"), "", *entry_lines(calibration.entries[-1]), ""])
    return _as_meant(changed, file, calibration)


def taken_back(text: str, file: str, calibration: BoardCalibration, number: int) -> str:
    """The text with the moment at which entry `number` was undone, which `calibration` has. Raises ConfigError."""
    lines, places = text.split("\n"), entry_places(text)
    undone = calibration.entries[number].undone
    if undone is not None and number < len(places):
        lines.insert(places[number] + 1, f"undone = {moment(undone)}")
    return _as_meant("\n".join(lines), file, calibration)


def _as_meant(text: str, file: str, calibration: BoardCalibration) -> str:
    try:
        its = _entries(text) == _entries(calibration_text(calibration))
    except ConfigError:
        its = False
    if not its:
        what = "its entries are written in a way that Slipring can read but not change"
        raise ConfigError(file, None, what, f"write {ENTRY} above each entry and one key a line below it")
    return text


def _entries(text: str) -> tuple[Entry, ...]:
    return parse_calibration(text, "").entries
