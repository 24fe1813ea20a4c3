"""Cases drawn from a seed for the proof of verdicts on wiring and its small twin: motors, hands, wirings, faults."""

from collections import Counter
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from server.verdict import Certainty
from server.wiring.arrangement import ORDERS
from server.wiring.grounds import Grounds, Known
from server.wiring.torque import Runs, runs
from server.wiring.verdicts import Judgement, verdicts
from tests.server.wiring import spoiled
from tests.server.wiring.shaft import (
    Bench,
    Edges,
    Motor,
    drawn,
    drawn_errors,
    edges_of,
    running_down,
    strokes,
    volts_of,
)
from tests.server.wiring.test_order import driven_torque
from tests.server.wiring.turned import Hand

Spoil = Callable[[Edges, float, np.random.Generator], Edges]
KEYS = {
    "commutation_good": (Runs.WELL, 1),
    "commutation_reverse": (Runs.WELL, -1),
    "commutation_weak": (Runs.WEAKLY, 0),
    "commutation_locks": (Runs.NOT, 0),
}
FAULTS_GAIN = 0.002  # of boards that are to tell a sensor 8 degrees out of place; at 2 % slow and weak motors hide it
NO_FAULT = frozenset(("hall_lines_good",))


def wired(rng: np.random.Generator, masks: tuple[int, ...], pole_pairs: int | None = None) -> Motor:
    """A healthy motor with any order of both cables."""
    halls, phases = ORDERS[rng.integers(6)], ORDERS[rng.integers(6)]
    return drawn(rng, pole_pairs, halls=halls, phases=phases, inverted=int(rng.choice(masks)))


def turned(
    motor: Motor,
    rng: np.random.Generator,
    turns: float,
    spoil: Spoil | None = None,
    back: bool = False,
    gain: float = 0.02,
) -> tuple[Grounds, int]:
    """By hand, either way, and back too if wanted, before a board that errs within its limits; and which way."""
    errors = drawn_errors(rng.spawn(1)[0], gain=gain)
    way = int(rng.choice((1, -1)))
    time, angle = strokes(rng, motor.pole_pairs, turns, way)
    if back:
        more = strokes(rng, motor.pole_pairs, 0.8 * turns, -way)
        time, angle = np.concatenate((time, time[-1] + 0.2 + more[0])), np.concatenate((angle, angle[-1] + more[1]))
    seconds = float(np.ceil(time[-1] / 0.2 + 1) * 0.2)
    bench = Bench(known=Known(turned_forward=True, pole_pairs=motor.pole_pairs), off_by=errors.off_by)
    edges = edges_of(motor, time, angle)
    volts = volts_of(motor, time, angle, seconds, bench.rate_hz, bench.step_v, errors)
    return bench.grounds(spoil(edges, seconds, rng) if spoil else edges, volts, seconds), way


def order_case(rng: np.random.Generator, edges: int) -> tuple[str, Counter[str]]:
    """Of some `edges`, any of the 288 wirings: how many there were with voltage, and what was said of them."""
    motor = wired(rng, tuple(range(8)))
    grounds, way = turned(motor, rng, edges / 6.0)
    judgement = verdicts(grounds)
    verdict = judgement.order.verdict
    group = (
        "12 edges or more" if grounds.induced >= 12 else "6 to 11 edges" if grounds.induced >= 6 else "below 6 edges"
    )
    told = Counter({"cases": 1, verdict.certainty.value: 1})
    told["fault of a healthy motor"] = int(_faults(judgement, motor))
    if verdict.certainty is not Certainty.OPEN:
        told["right"] = int(_right(judgement, motor, way))
    return group, told


def _right(judgement: Judgement, motor: Motor, way: int) -> bool:
    """Class and direction as driving an ideal motor makes them."""
    hand = Hand(motor.halls, motor.phases, motor.inverted)
    truth = driven_torque(hand, read=judgement.order.now.inverted) * way
    kind, sign = KEYS[judgement.order.verdict.key]
    size = judgement.order.fraction
    if size is None or runs(truth) is not kind:
        return False
    along = kind is Runs.NOT or size * truth > 0.0
    return along and (not sign or sign * truth > 0.0)


def _faults(judgement: Judgement, motor: Motor) -> bool:
    """Whether anything is said to be wrong but a mixed polarity, where it is mixed."""
    said = {each.key for each in judgement.verdicts if each.key.startswith(("hall_", "lead_", "edges_"))} - NO_FAULT
    said |= {each.key for each in judgement.verdicts if each.key in ("commutation_early", "commutation_late")}
    if motor.inverted not in (0, 7):
        said.discard("hall_polarity_mixed")
    return bool(said)


def alignment_case(rng: np.random.Generator) -> list[tuple[float, float]]:
    """Errors of place and lag of a motor that is turned both ways, with the uncertainty that was said."""
    motor = wired(rng, (0, 7))
    grounds, way = turned(motor, rng, float(rng.uniform(4.0, 16.0)), back=True)
    found = verdicts(grounds).alignment
    if found is None or found.placed is None or found.lag is None:
        return []
    truth = way * (motor.timing + float(np.mean(motor.place)))
    return [
        (found.placed.deg - truth, found.placed.u95_deg),
        (found.lag.deg - motor.hysteresis, found.lag.u95_deg),
    ]


def pattern_case(rng: np.random.Generator) -> tuple[bool, bool]:
    """Of a shaft that runs down: whether the pattern was called sure, and whether it was right."""
    motor = wired(rng, (0, 7))
    magnets = rng.normal(0.0, float(rng.uniform(0.3, 4.0)), 2 * motor.pole_pairs)
    motor = replace(motor, magnets=tuple(magnets.tolist()))
    time, angle = running_down(1.6, motor.pole_pairs, float(rng.uniform(900.0, 1500.0)))
    found = verdicts(Bench(probed=False).grounds(edges_of(motor, time, angle), None, 1.6)).pole_pairs
    return found.by_pattern_sure, found.by_pattern == motor.pole_pairs


def _two(rng: np.random.Generator) -> tuple[int, int]:
    one, other = rng.permutation(3)[:2]
    return int(one), int(other)


FAULTS: dict[str, tuple[Spoil, tuple[str, ...]]] = {
    "one line stuck": (
        lambda e, s, r: spoiled.stuck(e, int(r.integers(3)), int(r.integers(2))),
        ("hall_line_stuck",),
    ),
    "two lines joined": (lambda e, s, r: spoiled.joined(e, *_two(r), bool(r.integers(2))), ("hall_lines_joined",)),
    "no supply": (lambda e, s, r: spoiled.dead(e, int(r.integers(2))), ("hall_supply_missing",)),
    "no pull-up, one line": (lambda e, s, r: spoiled.floating(e, (int(r.integers(3)),), s, r), ("hall_line_floating",)),
    "no pull-up, all": (lambda e, s, r: spoiled.floating(e, (0, 1, 2), s, r), ("hall_line_floating",)),
    "loose wire": (lambda e, s, r: spoiled.broken(e, int(r.integers(3)), s, r), ("hall_line_intermittent",)),
    "loose supply": (spoiled.loose_supply, ("hall_supply_intermittent",)),
    "pulses": (lambda e, s, r: spoiled.pulses(e, float(r.uniform(30, 200)), s, r)[0], ("hall_pulses",)),
    "edges that bounce": (lambda e, s, r: spoiled.bouncing(e, int(r.integers(3)), r), ("hall_chatter",)),
    "one sensor inverted": (lambda e, s, r: e, ("hall_polarity_mixed",)),
    "a sensor out of place": (lambda e, s, r: e, ("hall_misplaced",)),
    "timing off": (lambda e, s, r: e, ("commutation_early", "commutation_late")),
    "magnets uneven": (lambda e, s, r: e, ("hall_magnets_uneven",)),
    "stuck, and pulses": (
        lambda e, s, r: spoiled.pulses(spoiled.stuck(e, int(r.integers(3)), int(r.integers(2))), 60.0, s, r)[0],
        ("hall_line_stuck",),
    ),
    "inverted, and pulses": (
        lambda e, s, r: spoiled.pulses(e, 60.0, s, r)[0],
        ("hall_polarity_mixed", "hall_pulses"),
    ),
    "inverted, and out of place": (lambda e, s, r: e, ("hall_polarity_mixed", "hall_misplaced")),
}
EITHER = frozenset(("timing off",))  # the keys are of its two kinds, not of two faults
ENDS = frozenset(("hall_line_stuck", "hall_lines_joined", "hall_supply_missing", "hall_line_floating"))
_CHANGED = 24  # edges: a break that hardly shows is none to be told


def fault_case(name: str, rng: np.random.Generator) -> str:
    """`told`, `told, beside` others, `other` with its keys, or `nothing` where the fault left too little trace."""
    spoil, due = FAULTS[name]
    motor = _faulty(name, rng)
    turns = 2.5 * motor.pole_pairs if name == "magnets uneven" else float(rng.uniform(3.0, 12.0))
    traces = []

    def spoiling(edges: Edges, seconds: float, drawn_from: np.random.Generator) -> Edges:
        after = spoil(edges, seconds, drawn_from)
        traces.append(abs(after.ticks.size - edges.ticks.size))
        return after

    grounds, _ = turned(motor, rng, turns, spoiling, gain=FAULTS_GAIN)
    if name in ("loose wire", "loose supply") and traces[0] < _CHANGED:
        return "nothing"
    judgement = verdicts(grounds)
    said = {
        each.key for each in judgement.verdicts if each.key.startswith(("hall_", "lead_", "edges_", "commutation_"))
    }
    said -= {*NO_FAULT, *KEYS, "commutation_unknown", "commutation_timed"}
    if said & ENDS and judgement.order.mends:
        return "other: an order beside it"
    if name == "magnets uneven" and (judgement.errors is None or not judgement.errors.magnets):
        return "nothing"  # some edge of the turn was always too slow for its voltage
    if name == "loose wire" and any("its wire is loose" in each.answer for each in judgement.verdicts):
        return "told"
    if said >= set(due) or (name in EITHER and said & set(due)):
        return "told" if not said - set(due) else f"told, beside {' '.join(sorted(said - set(due)))}"
    return f"other: {' '.join(sorted(said)) or 'none'}"


def _faulty(name: str, rng: np.random.Generator) -> Motor:
    motor = wired(rng, (1, 2, 3, 4, 5, 6) if "inverted" in name else (0, 7))
    sign = float(rng.choice((-1.0, 1.0)))
    if name.endswith("out of place"):
        place = list(motor.place)
        place[int(rng.integers(3))] = sign * float(rng.uniform(8.0, 25.0))
        return replace(motor, place=(place[0], place[1], place[2]))
    if name == "timing off":
        return replace(motor, timing=sign * float(rng.uniform(14.0, 27.0)))
    if name == "magnets uneven":
        magnets = rng.normal(0.0, 1.0, 2 * motor.pole_pairs)
        magnets -= np.resize([magnets[::2].mean(), magnets[1::2].mean()], magnets.size)
        magnets *= float(rng.uniform(4.0, 8.0)) / float(np.sqrt(np.mean(magnets**2)))
        return replace(motor, magnets=tuple(magnets.tolist()))
    return motor
