"""Alternating current of one and of three phases: many cycles in a window, and few."""

import numpy as np

from server.config import Plate
from server.motors import motor_type
from server.quantities import window_readings
from tests.coverage.cases import MAINS_HZ, Case, case
from tests.coverage.told import Told, beside

_FEW_HZ = (15.0, 25.0)  # three to five cycles in a window


def of_case(made: Case, three_phase: bool) -> list[Told]:
    """All readings of a case whose truth is known."""
    motor = motor_type("three_phase_induction" if three_phase else "permanent_split_capacitor")
    return beside(window_readings(made.window, motor, Plate(pole_pairs=2)), {**made.truth, **made.lists})


def mains(draw: np.random.Generator, number: int) -> list[Told]:
    three_phase = number % 2 == 1
    return of_case(case(draw, three_phase, MAINS_HZ), three_phase)


def few_cycles(draw: np.random.Generator, number: int) -> list[Told]:
    three_phase = number % 2 == 1
    return of_case(case(draw, three_phase, _FEW_HZ), three_phase)
