"""Speeds of an induction motor beside its field, and the slip between them: all by one clock."""

import numpy as np

from server.config import Plate
from server.motors import motor_type
from server.quantities import window_readings
from tests.coverage.cases import case
from tests.coverage.shaft import SCATTER_DEG, Edges, Motion, pulse_places, pulse_train, speeds
from tests.coverage.told import Told, beside

_MOTOR = motor_type("permanent_split_capacitor")


def slip(draw: np.random.Generator, _: int) -> list[Told]:
    """A steady speed by 1 to 24 pulses a turn, one to three pole pairs."""
    made, pairs, per_turn = case(draw, False), int(draw.integers(1, 4)), int(draw.choice((1, 2, 6, 24)))
    share = draw.uniform(0.005, 0.2)
    motion = Motion((1.0 - share) * made.hertz / pairs, 0.0)
    edges = Edges(draw, motion, pulse_places(draw, per_turn), made.clock, SCATTER_DEG)
    speed = next(each for each in speeds(pulse_train(edges, per_turn, made.clock), Plate()) if each.key == "speed_rpm")
    truths = {"slip": share, "synchronous_speed_rpm": 60.0 * made.hertz / pairs}
    return beside(window_readings(made.window, _MOTOR, Plate(pole_pairs=pairs), speed), {**truths})
