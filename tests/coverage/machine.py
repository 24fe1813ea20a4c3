"""Winding and constants of a motor on direct current, at rest and running.

What no channel measures is drawn as the budgets have it: brushes drop up to a fifth more or less than the plate says,
and the winding of a motor at work has up to a fifth more resistance.
"""

from functools import partial
from math import pi, sqrt

import numpy as np

from firmware_protocol import Role
from server.config import Plate
from server.motors import motor_type
from server.quantities import window_readings
from server.quantities.uncertainty import combined
from server.readings import Reading
from tests.coverage.channels import Board, channel_of, clock_of, fineness, level_at
from tests.coverage.told import Told, beside

_MOTOR = motor_type("permanent_magnet_dc")
_COPPER_C, _COLD_C = 235.0, 20.0  # IEC 60034-1 (from memory)


def machine(draw: np.random.Generator, number: int) -> list[Told]:
    ohm, amps, drop = draw.uniform(0.2, 5.0), draw.uniform(1.0, 8.0), draw.choice((0.0, 1.0, 1.6))
    plate = Plate(current_a=amps, winding_resistance_ohm=ohm, brush_drop_v=drop, speed_rpm=3000.0)
    brushes = drop * draw.uniform(0.8, 1.2)
    return (_at_rest if number % 2 else _running)(draw, plate, ohm, amps, brushes)


def _at_rest(draw: np.random.Generator, plate: Plate, cold_ohm: float, amps: float, brushes: float) -> list[Told]:
    ohm = cold_ohm * draw.uniform(0.95, 1.4)
    warm_c = ohm / cold_ohm * (_COPPER_C + _COLD_C) - _COPPER_C
    truths = {
        "winding_resistance_ohm": ohm,
        "winding_temperature_c": warm_c,
        "winding_rise_k": warm_c - _COLD_C,
    }
    return beside(_readings(draw, plate, ohm * amps + brushes, amps, Reading("speed_rpm", 0.0)), {**truths})


def _running(draw: np.random.Generator, plate: Plate, cold_ohm: float, amps: float, brushes: float) -> list[Told]:
    """The speed is told by few edges or many, as exactly as they scatter."""
    constant, rpm, dof = draw.uniform(0.02, 0.2), draw.uniform(1000.0, 4000.0), float(draw.integers(2, 40))
    volts = constant * rpm * pi / 30.0 + cold_ohm * draw.uniform(1.0, 1.2) * amps + brushes
    scatter = rpm * 10 ** draw.uniform(-5.0, -2.5)
    told_rpm, told_scatter = rpm + draw.normal(0.0, scatter), scatter * sqrt(draw.chisquare(dof) / dof)
    speed = Reading("speed_rpm", told_rpm, uncertainty=combined(told_rpm, [("scatter", told_scatter, dof)]))
    truths = {"back_emf_constant": constant, "torque_constant": constant}
    return beside(_readings(draw, plate, volts, amps, speed), {**truths})


def _readings(draw: np.random.Generator, plate: Plate, volts: float, amps: float, speed: Reading) -> list[Reading]:
    fine = fineness(draw)
    clock = clock_of(draw, fine)
    rows = ((Role.VOLTAGE, volts), (Role.CURRENT, amps))
    board = Board(draw, [channel_of(draw, role, "motor", size, fine) for role, size in rows], clock)
    window = board.window(draw, [partial(level_at, level=size) for _, size in rows])
    return window_readings(window, _MOTOR, plate, speed)
