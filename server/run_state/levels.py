"""From which currents, voltages and speeds on a motor is taken to rest, run or stall. Pure.

What is not on the plate is not guessed: a missing figure either makes a state doubtful, with the reason, or there is
no state at all.
"""

from dataclasses import dataclass
from math import inf

from server.config import Plate, RigSettings
from server.motors import MotorType, Supply, pole_pairs_of
from server.samples import Channel

QUIET, LOUD = 0.02, 0.05  # of the plate current: below the one it has stopped drawing, above the other it draws again
NOISE = 3.0  # times the channel's own noise, where that is more than the share of the plate current
EMF_QUIET, EMF_LOUD = 0.02, 0.04  # of the plate voltage
SUPPLY = 0.85  # of the plate voltage: more than this is no EMF of a motor without current, but the supply
STALL_SPEED = 0.1  # of synchronous or plate speed
STALL_VOLTAGE = 0.5  # of the plate voltage: less is no supply
STALL_BAND = 0.9  # of the locked current: from here on
STALL_LEFT = 0.8  # of that: below it the rotor is no longer held
DRIVE_STALL = 0.5  # of the plate current, in a phase: a drive sets the current of a held rotor itself
TELLS = 1.5  # a locked current below so many times the plate current may as well be that of a running motor
DRAWS = 0.5  # of the plate current: where the current does not tell, it shows at least that the motor is driven
_STANDS_OUT = 3.0  # times what noise and offset of the channel may be: it is a current
_OFFSET = 0.02  # of the range: an offset that the board does not state (common practice, no published source)
_LEAK_A = 0.05  # what a filter or a solid-state switch passes of mains (common practice, no published source)
_LOST = "current flows, but there is no evidence of speed"
_HOLDS = "current flows and the shaft stands: this type also holds it so on purpose"
_ALIKE = "the current of this type is nearly the same running and held"
_SHAFT_ALONE = f"{_ALIKE}: judged by the shaft alone"


@dataclass(frozen=True, slots=True)
class Levels:
    """Thresholds in A, V and r/min. Shares are explained above; None: not known, or not to be asked."""

    alternating: bool
    quiet_a: float
    loud_a: float
    told_a: float  # from here on something flows at `fed_v` although it is less than `quiet_a`: by `plate_doubt`
    fed_v: float
    plate_doubt: str
    rated_a: float
    stall_a: float  # a rotor without speed is held from here on; at the plate voltage where that is known
    run_a: float  # below it the motor runs, where no speed sensor can say so; 0: the current cannot say so either
    stall_doubt: str  # why a stall is not certain
    lost_because: str  # what to say of a current without speed that is no stall
    emf_quiet_v: float | None
    emf_loud_v: float | None
    supply_v: float | None
    rated_v: float | None
    stopped_rpm: float
    stall_rpm: float
    start_limit_s: float


def levels_of(
    motor: MotorType, plate: Plate, settings: RigSettings, current: Channel | None, phase_current: bool
) -> Levels | str:
    """The thresholds, or the reason why there are none."""
    rated_a = plate.current_a
    if current is None:
        return "no channel measures the motor's current"
    if not rated_a:
        return "the plate current is not set"
    alternating = motor.supply is Supply.ALTERNATING
    noise_a = NOISE * (current.noise_rms or 0.0)
    quiet_a = max(QUIET * rated_a, noise_a)
    stall_a, run_a, doubt = _stall(motor, plate, rated_a, phase_current)
    # A motor's terminals show its own EMF; behind a drive's link there is none to see.
    driven = motor.locked_current_ratio is None
    rated_v = None if driven else plate.voltage_v
    fed = STALL_VOLTAGE if alternating else SUPPLY  # a coasting motor for direct current shows more than half
    stall_rpm = settings.stopped_rpm if driven and not motor.holds else _stall_rpm(plate)
    return Levels(
        alternating=alternating,
        quiet_a=quiet_a,
        loud_a=max(LOUD * rated_a, LOUD / QUIET * quiet_a),
        told_a=_told_a(current, alternating),
        fed_v=inf if rated_v is None else fed * rated_v,
        plate_doubt=f"a current flows, but less than {100 * QUIET:.0f} % of the plate's {rated_a:g} A: is that right?",
        rated_a=rated_a,
        stall_a=stall_a,
        run_a=run_a,
        stall_doubt=doubt,
        lost_because=_HOLDS if motor.holds else _LOST if run_a else _ALIKE,
        emf_quiet_v=None if rated_v is None else EMF_QUIET * rated_v,
        emf_loud_v=None if rated_v is None else EMF_LOUD * rated_v,
        supply_v=None if rated_v is None else SUPPLY * rated_v,
        rated_v=rated_v,
        stopped_rpm=settings.stopped_rpm,
        stall_rpm=max(stall_rpm, settings.stopped_rpm),
        start_limit_s=settings.start_time_limit_s,
    )


def _told_a(current: Channel, alternating: bool) -> float:
    """From here on it is neither noise nor offset of the channel, nor what leaks."""
    stated = current.offset_limit is not None or current.ac_coupled
    offset_a = 0.0 if stated else _OFFSET * max(abs(current.low), abs(current.high))
    return max(_STANDS_OUT * current.least, offset_a, _LEAK_A if alternating else 0.0)


def _stall(motor: MotorType, plate: Plate, rated_a: float, phase_current: bool) -> tuple[float, float, str]:
    """From which current on a rotor without speed is held, up to which one it runs, and what makes that uncertain."""
    band = motor.locked_current_ratio
    if motor.holds:
        return inf, 0.0, ""
    if band is None:
        doubt = "" if phase_current else "no channel measures a phase current: a chopping drive draws little"
        return DRIVE_STALL * rated_a, DRIVE_STALL * rated_a, doubt
    locked_a = plate.locked_rotor_current_a
    if (locked_a or band.low * rated_a) < TELLS * rated_a:
        return DRAWS * rated_a, 0.0, _SHAFT_ALONE
    if locked_a:
        return STALL_BAND * locked_a, min(0.5 * (rated_a + locked_a), STALL_BAND * locked_a), ""
    middle_a = 0.5 * (1.0 + band.low) * rated_a
    return middle_a, middle_a, f"the locked-rotor current is not on the plate: judged by the {band.source}"


def _stall_rpm(plate: Plate) -> float:
    pairs = pole_pairs_of(plate)
    if plate.frequency_hz and pairs:
        return STALL_SPEED * 60.0 * plate.frequency_hz / pairs
    return STALL_SPEED * (plate.speed_rpm or 0.0)
