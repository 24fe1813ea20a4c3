"""The software board's own cases of Hall wiring, which share no line with the verdicts, through windows to verdicts."""

import numpy as np

from server.wiring.grounds import Known
from server.wiring.verdicts import Judgement, verdicts
from simulator.hall_cases import HallRun, Way, draw_fault, hand_turn, healthy_motor
from tests.server.wiring.shaft import Bench, Edges

# What is due for each fault that shows while the shaft is turned by hand for some seconds.
DUE: dict[str, tuple[str, ...]] = {
    "hall_spacing": ("hall_polarity_mixed",),
    "hall_stuck": ("hall_line_stuck",),
    "hall_joined": ("hall_lines_joined",),
    "hall_floating": ("hall_line_floating",),
    "hall_supply_lost": ("hall_supply_missing",),
    "hall_intermittent": ("hall_line_intermittent", "hall_chatter"),  # one burst on an edge that is due: either
    "hall_pulses": ("hall_pulses",),
    "hall_misplaced": ("hall_misplaced",),
    "hall_duty": ("hall_width_uneven",),
    "phase_open": ("lead_silent",),
    "edges_doubled": ("hall_pulses",),
    "edges_missed": ("hall_sampled_too_slowly",),
}
SECONDS = 2.4


# What leaves fewer edges, more or less than the healthy motor, is none to be told: a break that came while the line was
# high anyway leaves none, and one or two edges doubled or missed are chance. A doubled one is two edges more.
LEAST_EDGES = {"hall_intermittent": 24, "edges_doubled": 6, "edges_missed": -3}


def judged(fault: str, seed: int, way: Way = "forward") -> tuple[Judgement, bool]:
    """Verdicts on one draw, empty `fault`: a healthy motor; and whether it left a trace on the lines."""
    run = _run(fault, seed, way)
    least = LEAST_EDGES.get(fault)
    more = 0 if least is None else run.edge_levels.size - _run("", seed, way).edge_levels.size
    shows = least is None or (more >= least if least > 0 else more <= least)
    edges = Edges(np.round(1e6 * run.edge_times_s).astype(np.int64), run.edge_levels.astype(np.int64), run.start_levels)
    known = Known(turned_forward=True, pole_pairs=healthy_motor(seed).parameters.pole_pairs)
    return verdicts(Bench(known=known).grounds(edges, run.voltages_v, SECONDS)), shows


def _run(fault: str, seed: int, way: Way) -> HallRun:
    controls = dict(draw_fault(fault, np.random.default_rng((seed, 3)))) if fault else {}
    return hand_turn(
        healthy_motor(seed),
        controls,
        way,
        seed=seed,
        seconds=SECONDS,
        rate_hz=5000.0,
        noise_v=0.006,
        step_v=0.02,
        clock_s=1e-6,
        loaded=fault == "hall_pulses",
    )
