"""Which readings each group of channels gives, where two give the same. Pure."""

import numpy as np

from firmware_protocol import Role
from server.config import Plate
from server.motors import MotorType
from server.quantities import SPEED_KEYS, window_readings
from server.samples import Samples
from server.stream.scaling import Group


def owned(
    groups: tuple[Group, ...],
    motor: MotorType | None,
    plate: Plate,
    main: Group | None,
    roles: dict[int, frozenset[Role]],
) -> dict[int, tuple[dict[str, tuple[str, str]], bool]]:
    """For each group the readings that it gives, by id: key and place; and whether that is all it computes.

    Where two give the same, the main one does, else the lower number. Which readings a window has depends on channels
    and motor alone, but for those of one window in some, which the window of number 0 has; so an empty one tells.
    """
    found: dict[int, tuple[dict[str, tuple[str, str]], bool]] = {}
    taken: set[str] = set()
    for group in sorted(groups, key=lambda group: (group is not main, group.index)):
        shape = (len(group.channels), group.window)
        none, all_missing = np.zeros(shape, np.bool_), np.ones(group.window, np.bool_)
        empty = Samples(
            group.channels,
            0,
            0,
            float(group.ticks_per_sample),
            group.tick_hz,
            np.full(shape, np.nan),
            all_missing,
            none,
        )
        try:
            readings = window_readings(empty, motor, plate, main=roles[group.index])
        except Exception:  # told when the first window comes
            readings = []
        its = {each.id: (each.key, each.place) for each in readings if each.id not in taken}
        if group is not main:  # the speed is of the main one, with the edges
            its = {key: each for key, each in its.items() if key not in SPEED_KEYS}
        found[group.index] = its, len(its) == len(readings)
        taken |= set(its)
    return found
