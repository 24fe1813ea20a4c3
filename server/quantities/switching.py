"""Whether supply or load changed within a window: RMS, power and frequency are then those of no moment in it. Pure.

Asked of the rows of 10 ms, which are there anyway; samples are looked at only where the rows differ.
"""

import numpy as np

from server.config import Plate
from server.readings import Doubt, Fast, Reading, doubtful
from server.samples import Samples

SWITCHED = "the supply was switched within the window"
LEFT = 0.9  # of the highest row: below it may be more than a ripple
CROSSINGS = 2  # of half the highest row: a half-wave or chopped supply makes more of them than a switch
HALF, OFF = 0.5, 0.1  # of the highest row: what came from below the one came on; below the other it was off
SUPPLY = 0.85  # of the plate voltage: less is no supply that could have gone off, but an EMF that dies away
SEEN = 0.02  # of the plate voltage, or so many times the noise: less is no voltage
NOISES = 20.0
LOUD = 0.05  # of the plate current
EDGE_S = 0.001  # of a window: a wave passes zero in less
EDGE_SHARE = 0.02  # of the peak: what stays below it all this time is no wave
_TRUE_ANYWAY = ("current_peak_a", "voltage_peak_v", "speed_rpm", "speed_source")  # highest sample; edges as a rule
CHANGED = "the current changed within the window"
# What the current has no part in; all else is doubtful, a quantity of tomorrow too.
_NOT_OF_CURRENT = (
    *("voltage_", "line_voltage_", "frequency_hz", "synchronous_speed_", "slip", "run_state", "speed_", "edge_speed_"),
    *(
        "direction",
        "hall_state",
        "sector",
        "electrical_",
        "commutation_valid",
        "steps_in_order_percent",
        "state_order",
        "mechanical_",
        "angular_",
    ),
    *("temperature_", "tacho_", "position_", "command", "board_", "other", "emf_speed_"),
)
_OF_SECTORS = "sector_current"  # though the sector itself is not
SLOW_HZ = 30.0  # below, halves of a steady wave's window differ by as much
CHANGE = 0.05  # between its halves, and of the plate current what counts at least


def marked(readings: list[Reading]) -> list[Reading]:
    """The readings of such a window, doubtful but for what is true whatever happened in it."""
    return [each if each.key in _TRUE_ANYWAY else doubtful(each, SWITCHED, _says(each)) for each in readings]


def changed(rows: Fast, plate: Plate, slow: bool = False) -> bool:
    """The current was another one in the second half of the window than in the first: its RMS is that of neither.

    `slow`: it alternates so slowly that a half holds more of one wave than of another; then it is not told.
    """
    if slow:
        return False
    half = len(rows.current_a) // 2
    before, after = float(rows.current_a[:half].sum()), float(rows.current_a[half:].sum())
    least = CHANGE * (plate.current_a or 0.0) * half
    return abs(after - before) > max(CHANGE * max(before, after), least)


def marked_changed(readings: list[Reading]) -> list[Reading]:
    """What rests on the current, doubtful; the voltage and what is true anyway stay as they are."""
    return [doubtful(each, CHANGED, _says(each)) if _of_current(each.key) else each for each in readings]


def _says(reading: Reading) -> Doubt:
    """A root of the mean of squares is that of the window, however they came: the heat of a current rests on it."""
    return Doubt.OF_ALL_THE_WINDOW if reading.key == "current_rms_a" else Doubt.NONE


def _of_current(key: str) -> bool:
    return key not in _TRUE_ANYWAY and (key.startswith(_OF_SECTORS) or not key.startswith(_NOT_OF_CURRENT))


def switched(
    window: Samples, voltage: int | None, current: int | None, rows: Fast, plate: Plate, alternating: bool
) -> bool:
    """`voltage`, `current`: the main channels by their place in the window, None where there is none.

    A dip is no switching as long as current flows at the window's end. What moves an RMS value by less than 0.5 %, in
    its first or last few milliseconds, is not seen.
    """
    if voltage is None:
        return False
    volts = rows.voltage_v
    highest, lowest = float(volts.max()), float(volts.min())
    if not lowest < LEFT * highest:  # nearly always
        return False
    if np.count_nonzero(np.diff(volts > HALF * highest)) > CROSSINGS:
        return False
    rated_v, noise_v = plate.voltage_v or 0.0, window.channels[voltage].noise_rms or 0.0
    if highest < max(SEEN * rated_v, NOISES * noise_v):
        return False
    if _came(window, voltage, float(volts[0]), float(volts[-1]), highest):
        return True
    if current is not None and _ended(window, voltage, current, rows, plate.current_a or 0.0):
        return True
    if highest < SUPPLY * rated_v:
        return False
    if current is None or alternating:
        return lowest < (HALF if current is None else OFF) * highest
    return float(rows.current_a[-1]) < _loud_a(window, current, plate.current_a or 0.0)


def _came(window: Samples, voltage: int, first: float, last: float, highest: float) -> bool:
    if first < HALF * highest and last >= LEFT * highest:
        return True
    values = np.abs(window.values[voltage])
    begin = values[: max(round(EDGE_S * window.rate_hz), 1)]
    return first < LEFT * highest and bool((begin < EDGE_SHARE * values.max()).all())


def _ended(window: Samples, voltage: int, current: int, rows: Fast, rated_a: float) -> bool:
    """The current ended too: no load can have pulled the voltage down. Peaks: the RMS of a row ripples but at 50 Hz."""
    loud_a, volts = _loud_a(window, current, rated_a), np.abs(window.values[voltage])
    if volts[-(window.count // len(rows.current_a)) :].max() >= LEFT * volts.max():
        return False
    end = np.abs(window.values[current, -max(round(EDGE_S * window.rate_hz), 1) :])
    return bool((end < loud_a).all()) and float(rows.current_a.max()) > loud_a


def _loud_a(window: Samples, current: int, rated_a: float) -> float:
    return max(LOUD * rated_a, NOISES * (window.channels[current].noise_rms or 0.0))
