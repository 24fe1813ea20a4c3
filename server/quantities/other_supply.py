"""Whether a motor is fed with what its type is made for. Pure.

A motor with a commutator may run on the other kind all the same, and a brake may be direct current: it is a doubt.
"""

from server.motors import MotorType, Supply
from server.quantities.analysis import Analysis
from server.quantities.fundamental import DIRECT_VOLTAGE
from server.quantities.levels import alternating_hz
from server.quantities.reasons import joined
from server.readings import Confidence, Reading


def judged_by_supply(state: Reading, a: Analysis, motor: MotorType) -> Reading:
    """The run state, doubtful where the type is for another supply: that is said first, as others may follow."""
    why = other_supply(a, motor)
    return Reading(state.key, state.value, Confidence.DOUBTFUL, joined(why, state.reason)) if why else state


def other_supply(a: Analysis, motor: MotorType) -> str:
    """Why to doubt what is told of the motor, or empty: its type is for another supply than the one that is there.

    What is rectified and not smoothed has a large mean and is direct.
    """
    volts, amps = a.layout.main(voltage=True), a.layout.main(voltage=False)
    if motor.holds or volts is None or amps is None or a.rms[amps] < a.layout.rows[amps].limit:
        return ""
    its = f"the plate's type, {motor.label}, is for"
    if motor.supply is Supply.DIRECT:
        hertz = alternating_hz(a, volts) if motor.has_commutator else None  # else a drive may make it so
        return "" if hertz is None else f"{its} direct current, but the voltage alternates at {hertz:.3g} Hz"
    if motor.has_commutator or a.silence != DIRECT_VOLTAGE:
        return ""
    return f"{its} alternating current, but the voltage is direct: a brake, or another motor"
