"""Share of one core that a software board takes in real time, and what many cases cost at once.

A board at its reference rate, front end and framing included, port and pacing not, is to live 20 times faster than
real time; 200 cases of an induction or direct-current motor as one array 500 case-seconds a CPU second.
"""

from collections.abc import Callable
from functools import partial
from statistics import median
from time import process_time

import numpy as np

from simulator.bench import RATE_HZ, bench, bench_board
from simulator.motors import MOTORS
from simulator.motors.motor import Model, advance
from simulator.physics.control import initial
from tests.benchmarks.pairs import Row

GOAL = "board"
SHARE_AT_MOST = 1 / 20
STEP_S = 0.05  # as often as the board asks its source
BEGIN_S = 4.0  # by then every first story runs its motor
BATCH_S = 0.5
CASES, CASE_SHARE_AT_MOST = 200, 1 / 500
MANY = ("permanent_split_capacitor", "three_phase_induction", "permanent_magnet_dc", "series_dc", "shunt_dc")


def share_of_a_core(live: Callable[[], object], lived_s: float, batches: int) -> float:
    """CPU seconds of this process a second of the board's time: median of `batches` of half a second each."""
    shares = []
    for _ in range(batches):
        start = process_time()
        for _ in range(round(BATCH_S / lived_s)):
            live()
        shares.append((process_time() - start) / BATCH_S)
    return median(shares)


def share_of_a_case(model: Model, batches: int) -> float:
    """CPU seconds for one second of one case among 200, running, a tenth of the samples kept."""
    parameters = next(iter(model.parameter_sets.values()))
    controls = {**initial(model.controls), **model.usual(parameters), "supply_on": 1.0}
    cases = np.concatenate([model.constants(parameters, controls)] * CASES)
    states = np.concatenate([model.at_rest(parameters, seed) for seed in range(CASES)])
    rate_hz = RATE_HZ / 10
    samples = round(0.1 * rate_hz)
    advance(model, cases, states, 0, samples, rate_hz)
    shares = []
    for _ in range(batches):
        start = process_time()
        advance(model, cases, states, 0, samples, rate_hz)
        shares.append((process_time() - start) / (0.1 * CASES))
    return median(shares)


def measure(pairs: int) -> list[Row]:
    """A row for each motor of the bench, and one for each type that is computed by the hundred."""
    rows = []
    for motor in bench():
        board = bench_board(motor)
        board.step(BEGIN_S)
        whole = share_of_a_core(partial(board.step, STEP_S), STEP_S, pairs)
        rows.append(Row(GOAL, f"{motor.name} ({motor.type}): share of a core", whole, SHARE_AT_MOST))
    for key in MANY:
        rows.append(Row(GOAL, f"{key}: a case of {CASES}", share_of_a_case(MOTORS[key], pairs), CASE_SHARE_AT_MOST))
    return rows
