"""All verdicts together: in their order, each with figures and, where it is not plain, with what would tell."""

from dataclasses import replace

import numpy as np
import pytest

from server.verdict import Certainty
from server.wiring.grounds import Known
from server.wiring.names import Names
from server.wiring.verdicts import HOLDS, verdicts
from tests.server.wiring import spoiled
from tests.server.wiring.shaft import Bench, Edges, Motor, edges_of
from tests.server.wiring.test_faults import SPOILED, grounds_of


def test_what_is_wrong_stands_before_what_holds_and_that_before_what_is_open() -> None:
    judgement = verdicts(grounds_of(1, motor=Motor(place=(0.0, 14.0, 0.0), phases=(1, 0, 2), inverted=4)))
    assert [each.key for each in judgement.verdicts] == [
        "hall_polarity_mixed",
        "commutation_locks",
        "hall_misplaced",
        "commutation_timed",
    ]
    blind = verdicts(grounds_of(1, bench=Bench(probed=False)))
    assert [each.key for each in blind.verdicts] == ["hall_lines_good", "commutation_unknown"]


def test_every_verdict_carries_figures_and_a_caution_where_something_is_touched_or_turned() -> None:
    grounds = [grounds_of(2, spoil) for _, spoil, _ in SPOILED]
    grounds += [grounds_of(2, motor=Motor(timing=20.0)), grounds_of(2, turns=1.5), grounds_of(2, stands=True)]
    for each in grounds:
        for verdict in verdicts(each).verdicts:
            if verdict.certainty is not Certainty.OPEN:
                assert any(character.isdigit() for sign in verdict.signs for character in sign.text), verdict
            if verdict.next_test is not None and verdict.key not in HOLDS:
                assert verdict.next_test.caution, verdict
            assert "%" not in verdict.answer


def test_wires_are_called_what_the_person_calls_them() -> None:
    names = Names(halls=("yellow", "green", "blue"))
    bench = Bench(known=Known(names=names, turned_forward=True))
    judgement = verdicts(grounds_of(3, lambda e, s, r: spoiled.stuck(e, 1, 0), bench=bench))
    assert judgement.verdicts[0].answer.startswith("B (green) stays low")


def test_less_than_an_electrical_turn_says_nothing_but_to_turn_further() -> None:
    for turns in (0.2, 0.4, 0.6):
        judgement = verdicts(grounds_of(4, turns=turns))
        assert {each.certainty for each in judgement.verdicts} == {Certainty.OPEN}


def test_a_board_that_only_looks_at_its_inputs_says_what_that_costs() -> None:
    """Each 50 us and 7 pole pairs at 3000 r/min: 6.3 degrees a look, told to 1.8 (own sums: 360 p n / (60 f), over the
    root of 12); kept apart up to 21 400 r/min with a sensor 15 degrees off."""
    time = np.arange(0.0, 0.4, 5e-5)
    angle = 360.0 * 350.0 * time
    bench = Bench(probed=False, known=Known(pole_pairs=7), look_ticks=50)
    grounds = bench.grounds(edges_of(Motor(), time, angle), None, 0.4)
    verdict = next(each for each in verdicts(grounds).verdicts if each.key == "edges_coarse")
    assert "is 6.3 degrees" in verdict.signs[0].text
    assert "to 1.8 degrees" in verdict.signs[0].text
    assert "4.3 %" in verdict.signs[1].text
    assert "up to 21429 r/min" in verdict.signs[2].text
    timed = Bench(probed=False, known=Known(pole_pairs=7)).grounds(edges_of(Motor(), time, angle), None, 0.4)
    assert "edges_coarse" not in [each.key for each in verdicts(timed).verdicts]


@pytest.mark.parametrize("seed", range(6))
def test_voltages_the_other_way_and_a_common_voltage_change_nothing(seed: int) -> None:
    """Turning a recording round in time and the sign of its voltages is the same motor turned back."""
    grounds = grounds_of(seed)
    flipped = replace(
        grounds.visits, leads_v_s=2.0 * grounds.visits.leads_v_s, spread_v_s=2.0 * grounds.visits.spread_v_s
    )
    one, other = verdicts(grounds), verdicts(replace(grounds, visits=flipped))
    assert one.order.fraction == pytest.approx(other.order.fraction, abs=1e-12)
    assert one.order.verdict.key == other.order.verdict.key


@pytest.mark.parametrize("seed", range(30))
def test_any_heap_of_edges_and_voltages_is_judged_and_never_plainly_right(seed: int) -> None:
    """Random states at random times, in bursts too, voltages with gaps and steps: something is said, nothing breaks."""
    rng = np.random.default_rng(seed)
    count = int(rng.integers(0, 400))
    gaps = rng.choice([1, 20, 300, 5000, 90_000], count) * rng.integers(1, 10, count)
    ticks = np.cumsum(gaps).astype(np.int64)
    states = rng.integers(0, int(rng.choice([2, 4, 8])), count)
    changed = np.diff(states, prepend=0) != 0
    seconds = float(np.ceil((int(ticks[-1]) if count else 0) / 2e5 + 1) * 0.2)
    volts = np.cumsum(rng.normal(0.0, 0.05, (3, round(seconds * 5000.0))), axis=1)
    volts[:, rng.random(volts.shape[1]) < 0.01] = np.nan
    known = Known(counted=((1, count),), pole_pairs=int(rng.integers(1, 9)))
    bench = Bench(known=known, look_ticks=1 if seed % 2 else 50)
    judgement = verdicts(bench.grounds(Edges(ticks[changed], states[changed], 0), volts, seconds))
    assert judgement.verdicts
    for verdict in judgement.verdicts:
        assert not (verdict.key == "commutation_good" and verdict.certainty is Certainty.PLAIN)


def test_where_plugs_must_be_moved_neither_timing_nor_lines_sound_as_if_the_order_were_good() -> None:
    for seed in range(3):
        good = {each.key: each.answer for each in verdicts(grounds_of(seed)).verdicts}
        assert "come in order" in good["hall_lines_good"]
        assert "order" not in good["commutation_timed"]
        locks = verdicts(grounds_of(seed, motor=Motor(phases=(1, 0, 2))))
        answers = {each.key: each.answer for each in locks.verdicts}
        assert locks.order.verdict.key == "commutation_locks"
        assert "come in order" not in answers["hall_lines_good"]
        assert answers["commutation_timed"].startswith("Apart from the order, Hall edges come")
