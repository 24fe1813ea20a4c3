"""Speed from lines that bars of a commutator or slots of a cage make in the main current. Pure: of one window alone.

Where no line stands out, or the plate does not say how many there are to a turn, the reading is absent and says so.
"""

from math import lcm

import numpy as np

from server.config import Plate
from server.motors import Band, MotorType, Supply, pole_pairs_of
from server.quantities.analysis import Analysis
from server.quantities.quantity import BRUSHED, SLIPPING, THREE_PHASE, Quantity
from server.quantities.reasons import GAP, given, joined
from server.quantities.uncertainty import CLOCK, combined
from server.readings import Reading, Uncertainty, absent
from server.samples import Samples
from server.signals.shaft_lines import Orders, Turning, find_turning, harmonics_of, strongest_line

_CAGES = tuple(key for key in THREE_PHASE if key in SLIPPING)
LINE_SPEEDS = (
    Quantity(
        *("ripple_speed_rpm", "n_r", "speed from commutator ripple", "r/min", 0),
        "60 x ripple frequency / lcm(bars, poles); odd bars: lines of the bars alone too; taken is the turn whose "
        "whole multiples hold most of the lines of the current",
        *("common practice, lcm from memory; three bars: six to a turn, a maker's notes", "a current, bars and speed"),
        BRUSHED,
    ),
    Quantity(
        *("ripple_frequency_hz", "f_r", "commutator ripple, frequency", "Hz", 1),
        "strongest line of the bars; where the plate does not say how many, strongest line that is no harmonic",
        *("common practice", "a current", BRUSHED),
    ),
    Quantity(
        *("slot_speed_rpm", "n_sh", "speed from rotor slots", "r/min", 0),
        "60 (f_sh ∓ f) / R, as f_sh = f (R (1 - s) / p ± 1)",
        "Nandi, Toliyat and Li, IEEE Trans. Energy Conversion 20 (2005), p. 719 (from memory)",
        *("a line current, supply frequency and rotor slots", _CAGES),
    ),
    Quantity(
        *("slot_frequency_hz", "f_sh", "rotor slots, frequency", "Hz", 1),
        *("strongest of the two lines of the slots in the line current", "as the speed from rotor slots"),
        *("a line current, supply frequency and rotor slots", _CAGES),
    ),
)
_ANY_SPEED = Band(0.2, 1.5, "ours")
_SLIP_MAX, _SLIPS = 0.1, 3.0  # searched up to this, or so many times the plate's slip
_TURNS_MIN = 0.3  # in a window, where no plate bounds the search
_RIPPLE = "ripple_speed_rpm", "ripple_frequency_hz"
_SLOTS = "slot_speed_rpm", "slot_frequency_hz"
_NO_LINE = "no line of the {} stands out of noise and harmonics"


def line_speeds(a: Analysis, window: Samples, motor: MotorType | None, plate: Plate) -> list[Reading]:
    """Readings of `LINE_SPEEDS` that make sense for this board and motor type."""
    k = a.layout.main(voltage=False)
    if motor is None or k is None or not a.layout.rows[k].wave:
        return []
    if motor.has_commutator:
        keys, found = _RIPPLE, _ripple
    elif motor.has_slip and len(motor.phases) == 3:
        keys, found = _SLOTS, _slots
    else:
        return []
    if a.partial:
        return [absent(key, GAP) for key in keys]
    if a.rms[k] < a.layout.rows[k].limit:
        return [absent(key, "no current flows") for key in keys]
    return found(a, window, k, motor, plate)


def _ripple(a: Analysis, window: Samples, k: int, motor: MotorType, plate: Plate) -> list[Reading]:
    bars, alternating = plate.commutator_bars, motor.supply is Supply.ALTERNATING and a.frequency_hz is not None
    f = (a.frequency_hz or 0.0) * window.count / window.rate_hz if alternating else 0.0
    if bars is None:
        return [absent(_RIPPLE[0], "commutator_bars is not on the plate"), _strongest(a, window, k, plate, f)]
    main = lcm(bars, 2 * (plate.pole_pairs or 1))
    low, high, doubt = _range(a, window, motor, plate, main)
    if main * low + f > 0.5 * window.count or low >= high:
        return [absent(key, f"sampled too slowly for {main} lines to a turn") for key in _RIPPLE]
    turning = find_turning(_spectrum(a, window, k), window.count, Orders(main, bars, f), low, high)
    return _readings(a, window, k, turning, _RIPPLE, "commutator", doubt)


def _range(a: Analysis, window: Samples, motor: MotorType, plate: Plate, main: int) -> tuple[float, float, str]:
    """Fewest and most turns in the window to look for, and why to doubt what is found."""
    most = (0.5 * window.count - 8.0) / main
    if plate.speed_rpm is None:
        return _TURNS_MIN, most, "no plate speed says which of its lines to expect"
    band, volts = motor.speed_ratio or _ANY_SPEED, a.layout.main(voltage=True)
    more = max(1.0, a.rms[volts] / plate.voltage_v) if volts is not None and plate.voltage_v else 1.0
    plate_turns = plate.speed_rpm / 60.0 * window.count / window.rate_hz
    return band.low * plate_turns, min(band.high * more * plate_turns, most), ""


def _strongest(a: Analysis, window: Samples, k: int, plate: Plate, f: float) -> Reading:
    """What is slower than four lines to a turn of the plate's speed is no ripple."""
    low = 4.0 * (plate.speed_rpm or 300.0) / 60.0 * window.count / window.rate_hz
    line = strongest_line(_spectrum(a, window, k), window.count, low, f)
    if line is None:
        return absent(_RIPPLE[1], _NO_LINE.format("commutator"))
    return given(_RIPPLE[1], line.cycles * window.rate_hz / window.count, doubt=a.clipped[k])


def _slots(a: Analysis, window: Samples, k: int, motor: MotorType, plate: Plate) -> list[Reading]:
    slots, pairs = plate.rotor_slots, pole_pairs_of(plate)
    if why_not := _no_slots(a, slots, pairs):
        return [absent(key, why_not) for key in _SLOTS]
    assert slots is not None
    assert pairs is not None
    f = (a.frequency_hz or 0.0) * window.count / window.rate_hz
    slip = _SLIP_MAX
    if plate.speed_rpm and plate.frequency_hz:
        slip = max(slip, _SLIPS * (1.0 - plate.speed_rpm * pairs / (60.0 * plate.frequency_hz)))
    low, high = (1.0 - min(slip, 0.5)) * f / pairs, 1.001 * f / pairs
    if slots * high - f > 0.5 * window.count - 8.0:
        return [absent(key, f"sampled too slowly for {slots} slots to a turn") for key in _SLOTS]
    orders = Orders(slots, slots, f)
    turning = find_turning(_spectrum(a, window, k), window.count, orders, low, high)
    if turning is None and (on := harmonics_of(f / pairs, orders)):
        why_not = f"{_NO_LINE.format('rotor slots')}; near no load they lie on orders {on[0]} and {on[1]} of the supply"
        return [absent(key, why_not) for key in _SLOTS]
    return _readings(a, window, k, turning, _SLOTS, "rotor slots", "")


def _no_slots(a: Analysis, slots: int | None, pairs: int | None) -> str:
    if slots is None:
        return "rotor_slots is not on the plate"
    if pairs is None:
        return "pole pairs are not known"
    return a.silence or a.unsteady


def _spectrum(a: Analysis, window: Samples, k: int) -> np.ndarray[tuple[int], np.dtype[np.complex128]]:
    return np.fft.rfft(window.values[a.layout.take[k]])


def _readings(
    a: Analysis, window: Samples, k: int, turning: Turning | None, keys: tuple[str, str], what: str, doubt: str
) -> list[Reading]:
    if turning is None:
        return [absent(key, _NO_LINE.format(what)) for key in keys]
    per_s = window.rate_hz / window.count
    rpm = 60.0 * turning.turns * per_s
    if turning.rival is not None:
        doubt = joined(doubt, f"{60.0 * turning.rival * per_s:.0f} r/min fits its lines nearly as well")
    doubt = joined(doubt, a.clipped[k])
    speed = given(keys[0], rpm, "", doubt, None, _sure(a, k, rpm, turning))
    return [speed, given(keys[1], turning.line.cycles * per_s, doubt=a.clipped[k])]


def _sure(a: Analysis, k: int, rpm: float, turning: Turning) -> Uncertainty | None:
    clock = a.layout.rows[k].channel.clock
    if clock is None:
        return None
    noise = ("noise beside the lines", rpm * turning.standard / turning.turns, turning.dof)
    return combined(rpm, [noise, (CLOCK, rpm * clock.standard, clock.dof)])
