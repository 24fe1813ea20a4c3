"""Share of one core that a software board takes in real time: physics, front end, framing; port and pacing not."""

from collections.abc import Callable
from functools import partial
from statistics import median
from time import process_time

from simulator.bench import BENCH, bench_board
from simulator.motors import MOTORS
from tests.benchmarks.pairs import Row

GOAL = "board"
SHARE_AT_MOST = 0.15
STEP_S = 0.005  # as often as the board's shell moves bytes
BEGIN_S = 4.0  # by then every first story runs its motor
BATCH_S = 0.5
BLOCK_SAMPLES = 1_000  # how far ahead a board asks its source


def share_of_a_core(live: Callable[[], object], lived_s: float, batches: int) -> float:
    """CPU seconds of this process a second of the board's time: median of `batches` of half a second each."""
    shares = []
    for _ in range(batches):
        start = process_time()
        for _ in range(round(BATCH_S / lived_s)):
            live()
        shares.append((process_time() - start) / BATCH_S)
    return median(shares)


def measure(pairs: int) -> list[Row]:
    """Two rows a motor of the bench: the whole board, and of it the physics alone at full load and 20 kS/s."""
    rows = []
    for motor in BENCH:
        board = bench_board(motor.key)
        board.step(BEGIN_S)
        whole = share_of_a_core(partial(board.step, STEP_S), STEP_S, pairs)
        model = MOTORS[motor.type](rate_hz=20_000.0)
        model.set(supply_on=1, **({"duty": 1, "load_torque_n_m": 1} if motor.type == "brushless" else {}))
        model.advance(4_000)
        physics = share_of_a_core(partial(model.advance, BLOCK_SAMPLES), BLOCK_SAMPLES / 20_000, pairs)
        rows.append(Row(GOAL, f"{motor.name}: share of a core in real time", whole, SHARE_AT_MOST))
        rows.append(Row(GOAL, f"{motor.name}: of it the physics", physics, SHARE_AT_MOST))
    return rows
