"""Faults of sensors, cable, board and probes: told, in their order, and never taken for a wrong order of wires."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from server.hall.tail import Tail
from server.verdict import Certainty, Speaks
from server.wiring.grounds import Grounds, Known
from server.wiring.verdicts import Judgement, verdicts
from server.wiring.visits import no_visits, visits_of
from tests.server.wiring import spoiled
from tests.server.wiring.shaft import Bench, Edges, Motor, drawn, edges_of, strokes, volts_of

# Levels of A, B, C in the six steps, one after another turning forward, as a published course on such motors prints
# them (www.appliedee.com, three-phase brushless motors, table of commutation by sensors 120 degrees apart).
PUBLISHED = ("101", "100", "110", "010", "011", "001")


def grounds_of(
    seed: int,
    spoil: Callable[[Edges, float, np.random.Generator], Edges] | None = None,
    turns: float = 8.0,
    bench: Bench | None = None,
    motor: Motor | None = None,
    stands: bool = False,
) -> Grounds:
    """Of a motor that is turned by hand, with a fault on its lines."""
    rng = np.random.default_rng(seed)
    motor, bench = motor or drawn(rng), bench or Bench(known=Known(turned_forward=True))
    time, angle = strokes(rng, motor.pole_pairs, turns)
    if stands:
        angle = np.zeros(angle.size)
    seconds = float(np.ceil(time[-1] / 0.2 + 1) * 0.2)
    edges = edges_of(motor, time, angle)
    volts = volts_of(motor, time, angle, seconds, bench.rate_hz, bench.step_v) if bench.probed else None
    return bench.grounds(spoil(edges, seconds, rng) if spoil else edges, volts, seconds)


def keys(judgement: Judgement) -> list[str]:
    return [verdict.key for verdict in judgement.verdicts]


def _answer(judgement: Judgement, key: str) -> str:
    return next(verdict.answer for verdict in judgement.verdicts if verdict.key == key)


# Own enumeration from the published table: the states, A least significant, when a line is stuck or two are joined.
def _states(change: Callable[[int, int, int], tuple[int, int, int]]) -> list[int]:
    rows = [change(int(row[0]), int(row[1]), int(row[2])) for row in PUBLISHED]
    return [4 * c + 2 * b + a for a, b, c in rows]


CHANGED: tuple[tuple[str, list[int], str, str], ...] = (
    ("A low", _states(lambda a, b, c: (0, b, c)), "hall_line_stuck", "A stays low"),
    ("A high", _states(lambda a, b, c: (1, b, c)), "hall_line_stuck", "A stays high"),
    ("B low", _states(lambda a, b, c: (a, 0, c)), "hall_line_stuck", "B stays low"),
    ("B high", _states(lambda a, b, c: (a, 1, c)), "hall_line_stuck", "B stays high"),
    ("C low", _states(lambda a, b, c: (a, b, 0)), "hall_line_stuck", "C stays low"),
    ("C high", _states(lambda a, b, c: (a, b, 1)), "hall_line_stuck", "C stays high"),
    ("A and B, low wins", _states(lambda a, b, c: (a & b, a & b, c)), "hall_lines_joined", "A and B are joined"),
    ("B and C, low wins", _states(lambda a, b, c: (a, b & c, b & c)), "hall_lines_joined", "B and C are joined"),
    ("A and C, low wins", _states(lambda a, b, c: (a & c, b, a & c)), "hall_lines_joined", "A and C are joined"),
    ("A and B, high wins", _states(lambda a, b, c: (a | b, a | b, c)), "hall_lines_joined", "A and B are joined"),
    ("B and C, high wins", _states(lambda a, b, c: (a, b | c, b | c)), "hall_lines_joined", "B and C are joined"),
    ("A and C, high wins", _states(lambda a, b, c: (a | c, b, a | c)), "hall_lines_joined", "A and C are joined"),
)


@pytest.mark.parametrize(("what", "states", "key", "answer"), CHANGED, ids=[each[0] for each in CHANGED])
@pytest.mark.parametrize("way", [1, -1])
def test_state_lists_of_stuck_and_joined_lines_are_told(
    what: str, states: list[int], key: str, answer: str, way: int
) -> None:
    """Three electrical turns of the list alone, a state 20 ms, without voltages."""
    row = np.array(states[::way] * 3)
    changed = np.flatnonzero(np.diff(row) != 0) + 1
    tail = Tail(20_000 * changed.astype(np.int64), row[changed], int(row[0]), 0, 0)
    visits = visits_of(tail, None, (), 1e6)
    judgement = verdicts(Grounds(visits, tail, None, 0.4, 0.0, False, 1e6, False, 0.0, 0.0))
    assert keys(judgement) == [key, "commutation_unknown"], what
    assert _answer(judgement, key).startswith(answer)
    assert judgement.verdicts[0].certainty is Certainty.PLAIN
    assert judgement.order.mends == ()


def test_the_published_table_is_in_order_and_its_opposite_too() -> None:
    for way in (1, -1):
        row = np.array(_states(lambda a, b, c: (a, b, c))[::way] * 3)
        tail = Tail(20_000 * np.arange(1, 18), row[1:], int(row[0]), 0, 0)
        judgement = verdicts(Grounds(visits_of(tail, None, (), 1e6), tail, None, 0.4, 0.0, False, 1e6, False, 0.0, 0.0))
        assert keys(judgement) == ["hall_lines_good", "commutation_unknown"]


SPOILED: tuple[tuple[str, Callable[[Edges, float, np.random.Generator], Edges], str], ...] = (
    ("stuck", lambda e, s, r: spoiled.stuck(e, 2, 0), "hall_line_stuck"),
    ("joined", lambda e, s, r: spoiled.joined(e, 0, 2, False), "hall_lines_joined"),
    ("no supply", lambda e, s, r: spoiled.dead(e, 7 // 7), "hall_supply_missing"),
    ("no pull-up", lambda e, s, r: spoiled.floating(e, (1,), s, r), "hall_line_floating"),
    ("no pull-ups", lambda e, s, r: spoiled.floating(e, (0, 1, 2), s, r), "hall_line_floating"),
    ("loose wire", lambda e, s, r: spoiled.broken(e, 0, s, r), "hall_line_intermittent"),
    ("loose supply", lambda e, s, r: spoiled.loose_supply(e, s, r), "hall_supply_intermittent"),
    ("pulses", lambda e, s, r: spoiled.pulses(e, 60.0, s, r)[0], "hall_pulses"),
    ("bouncing", lambda e, s, r: spoiled.bouncing(e, 1, r), "hall_chatter"),
)


@pytest.mark.parametrize(("what", "spoil", "key"), SPOILED, ids=[each[0] for each in SPOILED])
def test_a_fault_of_lines_is_told_alone(
    what: str, spoil: Callable[[Edges, float, np.random.Generator], Edges], key: str
) -> None:
    for seed in (2, 3, 4):
        judgement = verdicts(grounds_of(seed, spoil))
        said = [each for each in keys(judgement) if each.startswith("hall_")]
        assert said == [key], (what, seed)
        first = next(verdict for verdict in judgement.verdicts if verdict.key == key)
        assert any(character.isdigit() for sign in first.signs for character in sign.text)
        assert first.next_test is not None


@pytest.mark.parametrize("seed", range(4))
def test_pulses_are_counted(seed: int) -> None:
    drawn_count = []

    def spoil(edges: Edges, seconds: float, rng: np.random.Generator) -> Edges:
        found, count = spoiled.pulses(edges, 40.0, seconds, rng)
        drawn_count.append(count)
        return found

    answer = _answer(verdicts(grounds_of(seed, spoil)), "hall_pulses")
    assert int(answer.split()[0]) == pytest.approx(drawn_count[0], abs=3)  # two within 100 us are one or none


def test_a_dead_sensor_and_a_wrong_order_leave_the_order_open() -> None:
    for phases in ((1, 0, 2), (1, 2, 0)):
        motor = Motor(phases=phases)
        judgement = verdicts(grounds_of(1, lambda e, s, r: spoiled.stuck(e, 0, 1), motor=motor))
        assert keys(judgement)[0] == "hall_line_stuck"
        assert judgement.order.verdict.certainty is Certainty.OPEN
        assert judgement.order.mends == ()
        assert "A stays high" in judgement.order.verdict.signs[0].text


def test_mixed_polarity_is_said_with_both_causes_and_the_order_judged_with_that_input_read_inverted() -> None:
    for inverted, name in ((1, "A"), (6, "A"), (2, "B"), (4, "C")):
        judgement = verdicts(grounds_of(2, motor=Motor(inverted=inverted)))
        verdict = next(each for each in judgement.verdicts if each.key == "hall_polarity_mixed")
        assert verdict.answer.startswith(f"{name} reads the opposite")
        assert "60" in verdict.answer
        assert "inverted" in verdict.answer
        assert verdict.next_test is not None
        assert "plate" in verdict.next_test.text
        assert judgement.order.verdict.certainty is Certainty.PLAIN


def test_a_60_degree_set_on_a_table_for_it_has_no_fault() -> None:
    bench = Bench(known=Known(turned_forward=True, spacing_deg=60))
    assert "hall_polarity_mixed" not in keys(verdicts(grounds_of(3, bench=bench, motor=Motor(spacing_deg=60))))
    assert "hall_polarity_mixed" in keys(verdicts(grounds_of(3, bench=bench, motor=Motor())))
    assert "hall_polarity_mixed" in keys(verdicts(grounds_of(3, motor=Motor(spacing_deg=60))))


def test_nothing_that_moves_asks_for_a_turn_of_the_shaft() -> None:
    judgement = verdicts(grounds_of(1, stands=True))
    assert keys(judgement)[0] == "nothing_moved"
    assert judgement.verdicts[0].certainty is Certainty.OPEN
    test = judgement.verdicts[0].next_test
    assert test is not None
    assert "Turn the shaft" in test.text


def test_a_jammed_motor_never_has_its_wires_exchanged() -> None:
    def tremble(edges: Edges, seconds: float, rng: np.random.Generator) -> Edges:
        ticks = np.cumsum(rng.integers(400, 4000, 60)).astype(np.int64)
        return Edges(ticks, np.tile([1, 5], 30), 5)

    for spoil in (None, tremble):
        bench = Bench(known=Known(turned_forward=True), driven=True)
        judgement = verdicts(grounds_of(4, spoil, bench=bench, stands=True))
        assert judgement.order.mends == ()
        for verdict in judgement.verdicts:
            text = f"{verdict.answer} {verdict.next_test}".casefold()
            assert "exchange" not in text
            assert "move all" not in text
        if spoil is None:
            assert keys(judgement)[0] == "stands_under_power"


def test_the_current_of_the_sensors_tells_a_short_and_a_supply_that_is_missing() -> None:
    short = Bench(known=Known(supply_a=0.049))
    assert _answer(verdicts(grounds_of(1, bench=short)), "hall_supply_short").startswith("Off now.")
    none = Bench(known=Known(supply_a=0.0))
    judgement = verdicts(grounds_of(1, lambda e, s, r: spoiled.dead(e, 1), bench=none))
    assert keys(judgement)[0] == "hall_supply_missing"
    assert judgement.verdicts[0].certainty is Certainty.PLAIN


@pytest.mark.parametrize(("levels", "said"), [(7, "high"), (0, "low")])
def test_a_shaft_that_rests_where_three_like_sensors_never_stand_is_turned_before_a_meter_is_fetched(
    levels: int, said: str
) -> None:
    nothing = Tail(np.zeros(0, np.int64), np.zeros(0, np.int64), levels, 0, 0)
    rests = Grounds(no_visits(), nothing, levels, 4.0, 0.0, False, 1e6, True, 0.1, 0.0)
    first, order = verdicts(rests).verdicts
    assert first.answer.startswith(f"A, B and C all read {said}: one of them is inverted")
    assert {first.certainty, order.certainty} == {Certainty.OPEN}
    for each in (first, order):
        assert each.next_test is not None
        assert each.next_test.text.startswith("Turn the shaft")
    no_current = replace(rests, known=Known(supply_a=0.0))
    meter = verdicts(no_current).verdicts[0].next_test
    assert meter is not None
    assert meter.text.startswith("Measure supply against ground")


def test_times_that_run_backwards_are_said_and_end_the_judging() -> None:
    grounds = grounds_of(1)
    ticks = grounds.edges.ticks.copy()
    ticks[20:] -= 1_000_000
    judgement = verdicts(replace(grounds, edges=replace(grounds.edges, ticks=ticks)))
    assert keys(judgement) == ["edges_out_of_time", "commutation_unknown"]
    wrapped = replace(grounds.visits, end_tick=grounds.visits.end_tick - (1 << 32))
    assert keys(verdicts(replace(grounds, visits=wrapped)))[0] == "edges_out_of_time"


def test_a_hand_that_goes_back_and_forth_has_no_fault() -> None:
    rng = np.random.default_rng(5)
    motor = drawn(rng)
    time = np.arange(0.0, 6.0, 2e-4)
    angle = 400.0 * np.sin(2 * np.pi * time / 1.5)
    bench = Bench(known=Known())
    volts = volts_of(motor, time, angle, 6.0, bench.rate_hz, bench.step_v)
    judgement = verdicts(bench.grounds(edges_of(motor, time, angle), volts, 6.0))
    assert [key for key in keys(judgement) if key.startswith("hall_")] == ["hall_lines_good"]
    assert judgement.order.verdict.certainty is Certainty.PLAIN


def test_a_rocking_over_three_sectors_calls_no_line_stuck() -> None:
    motor, time = Motor(), np.arange(0.0, 4.0, 2e-4)
    angle = 60.0 + 70.0 * np.sin(2 * np.pi * time)  # over the borders at 30 and 90: two lines change, one does not
    judgement = verdicts(Bench(probed=False).grounds(edges_of(motor, time, angle), None, 4.0))
    assert keys(judgement) == ["commutation_unknown"]


def test_edges_that_are_looked_for_too_seldom_are_said_where_they_skip_sectors() -> None:
    motor, every = Motor(), 200
    time = np.linspace(0.0, 3.0, 60_000)
    angle = 60.0 * (3600.0 * time**2)  # sectors of 46 us at the end
    edges = spoiled.sampled(edges_of(motor, time, angle), every)
    bench = Bench(probed=False, look_ticks=every)
    judgement = verdicts(bench.grounds(edges, None, 3.0))
    verdict = next(each for each in judgement.verdicts if each.key == "hall_sampled_too_slowly")
    assert any("inputs each 200 us only" in sign.text for sign in verdict.signs)
    slow = edges_of(motor, time[:8000], angle[:8000])  # sectors of 350 us at the end
    told = keys(verdicts(bench.grounds(spoiled.sampled(slow, every), None, 0.4)))
    assert "hall_sampled_too_slowly" not in told


def test_a_lead_that_is_not_connected_is_named() -> None:
    rng = np.random.default_rng(3)
    motor, bench = drawn(rng), Bench()
    time, angle = strokes(rng, motor.pole_pairs, 8.0)
    volts = volts_of(motor, time, angle, 3.0, bench.rate_hz, bench.step_v)
    volts[1] = 0.7  # the common point of the generator
    judgement = verdicts(bench.grounds(edges_of(motor, time, angle), volts, 3.0))
    assert keys(judgement)[0] == "lead_silent"
    assert "voltage of V is missing" in judgement.verdicts[0].answer
    assert judgement.order.mends == ()


def test_voltages_too_small_ask_for_more_speed() -> None:
    rng = np.random.default_rng(3)
    motor = drawn(rng, volts=0.002)
    judgement = verdicts(grounds_of(3, motor=motor))
    assert judgement.order.verdict.certainty is Certainty.OPEN
    assert "too slow" in judgement.order.verdict.answer
    assert judgement.order.verdict.signs[0].speaks is Speaks.MISSING


def test_a_stretch_of_nothing_at_all_is_judged() -> None:
    assert keys(
        verdicts(Bench(probed=False).grounds(Edges(np.zeros(0, np.int64), np.zeros(0, np.int64), 5), None, 0.2))
    )
