"""Does a motor show a sign of life: a first current, an edge, a step of the voltage? Pure.

Asked while no run is open, so that the next one opens by itself.
"""

from dataclasses import dataclass

import numpy as np

from firmware_protocol import Role
from server.config import Plate
from server.pipeline import Output
from server.stream.describing import Description
from server.stream.scaling import channel_of

PLATE_SHARE = 0.05  # of plate current or voltage
NOISES = 5.0
RANGE_SHARE = 0.01  # of a channel's range, where plate and noise are not known


@dataclass(frozen=True, slots=True)
class Activity:
    """`current_a`: more is a current; `voltage_v`: a change by more is a step; from the voltage first seen."""

    current_a: float
    voltage_v: float
    first_v: float | None = None


def levels(description: Description, plate: Plate) -> Activity:
    """What counts as a sign of life on this board with this motor."""
    return Activity(
        current_a=_level(description, Role.CURRENT, plate.current_a),
        voltage_v=_level(description, Role.VOLTAGE, plate.voltage_v),
    )


def _level(description: Description, role: Role, rated: float | None) -> float:
    """The highest of what the channels of this role need, so that no noise opens a run."""
    channels = [channel_of(each, description.identity.tick_hz) for each in description.channels if each.role is role]
    noise = max((NOISES * (each.noise_rms or 0.0) for each in channels), default=0.0)
    if rated:
        return max(PLATE_SHARE * rated, noise)
    return max((RANGE_SHARE * max(abs(each.low), abs(each.high)) for each in channels), default=0.0) + noise


def seen(activity: Activity, output: Output) -> tuple[Activity, bool]:
    """The activity after an output, and whether the output shows a sign of life."""
    alive = output.edges is not None and output.edges.ticks.size > 0
    currents = [each.current_a for each in output.fast]
    currents += [np.array([abs(each.value)]) for each in output.slow if each.channel.role is Role.CURRENT]
    alive = alive or any(bool((each > activity.current_a).any()) for each in currents)  # NaN is greater than nothing
    volts = [each.voltage_v for each in output.fast]
    volts += [np.array([each.value]) for each in output.slow if each.channel.role is Role.VOLTAGE]
    known = np.concatenate([np.zeros(0), *volts])
    known = known[~np.isnan(known)]
    if not known.size:
        return activity, alive
    first_v = float(known[0]) if activity.first_v is None else activity.first_v
    step = bool((np.abs(known - first_v) > activity.voltage_v).any())
    return Activity(activity.current_a, activity.voltage_v, first_v), alive or step
