"""Inputs that a board only looks at: edges are off by up to a look, and what is said of them knows it."""

from dataclasses import replace

import numpy as np
import pytest

from server.config import Plate
from server.hall.budget import of_fit, of_turns
from server.hall.counts import from_counts
from server.hall.fit import fitted
from server.hall.tail import tail_of
from server.quantities import shaft_readings
from server.readings import Reading
from server.samples import CountTrain, EdgeTrain, Input, Part
from tests.server.hall.shafts import FORWARD_120, HALLS, pulse_input, train

S, BITS = 1_000_000, (0, 1, 2)
PLACES = ("mechanical turn", "window", "placed edges")


def looked(edges: EdgeTrain, every: int, stated: bool = True) -> EdgeTrain:
    """The same edges, each with the tick of the look that found it; sectors are longer than a look here."""
    ticks = -(-edges.ticks // every) * every
    inputs = tuple(replace(each, look_ticks=every if stated else 1) for each in edges.inputs)
    return replace(edges, ticks=ticks, inputs=inputs, clock=Part(1e-7))


def steady(rpm: float, end_s: float, begin_s: float) -> EdgeTrain:
    """Two pole pairs, every sensor in its place, from any moment on."""
    k = np.arange(round(rpm / 60 * 12 * end_s))
    times = begin_s + k * 60 / rpm / 12
    ticks = np.rint(times * S).astype(int)
    edges = [(int(tick), FORWARD_120[at % 6]) for at, tick in zip(k, ticks, strict=True) if tick < end_s * S]
    return train(HALLS, edges, before=4, known_to=round(end_s * S))


def readings(edges: EdgeTrain, end_s: float) -> dict[str, Reading]:
    found = shaft_readings(edges, round((end_s - 0.2) * S), round(end_s * S), Plate(pole_pairs=2), 5.0)
    return {each.id: each for each in found}


@pytest.mark.parametrize("every", [200, 1000])
def test_the_interval_holds_the_true_speed_in_95_of_100_cases_also_where_the_shaft_keeps_step_with_looks(
    every: int,
) -> None:
    """Half of the speeds are drawn freely; of the others a sector is a whole number of looks and a hundredth of one,
    so that edges are off by a little more each time: the worst case, as errors are then not independent (JCGM 100,
    5.2)."""
    draw = np.random.default_rng(every)
    inside, made = dict.fromkeys(PLACES, 0), dict.fromkeys(PLACES, 0)
    for case in range(200):
        sector = draw.uniform(5, 25) if case % 2 else draw.integers(5, 26) + draw.uniform(-0.01, 0.01)
        rpm, end_s = 60 * S / (12 * sector * every), 3.0 + draw.random()
        found = readings(looked(steady(rpm, end_s, 0.01 + 0.01 * draw.random()), every), end_s)
        for place in PLACES:
            interval = found[f"edge_speed_rpm.{place}"].uncertainty
            if interval is not None:
                made[place] += 1
                inside[place] += interval.low <= rpm <= interval.high
    assert sum(made.values()) > 300
    for place, times in made.items():
        assert inside[place] >= 0.93 * times, (place, inside, made)


def test_the_same_edges_without_the_statement_claim_more_than_is_known() -> None:
    """19.5 looks of 200 us to a sector: what is stated makes ± wider, and is named in the budget."""
    edges = steady(60 * S / (12 * 19.5 * 200), 3.0, 0.01)
    said, unsaid = (readings(looked(edges, 200, stated), 3.0)["speed_rpm"].uncertainty for stated in (True, False))
    assert said is not None
    assert unsaid is not None
    assert said.high - said.low > 1.5 * (unsaid.high - unsaid.low)
    assert "time between two looks at the inputs" in [what for what, _ in said.parts]


def test_a_turn_of_n_looks_is_known_to_0_41_of_a_look() -> None:
    """SPEC.md, InputDescription: 0.41 / n (own sum: the root of two twelfths)."""
    parts = {what: standard for what, standard, _ in of_turns(9.5 * 50, 1, None, 50)}
    assert parts["time between two looks at the inputs"] == pytest.approx(0.41 / 9.5, rel=0.005)
    assert {what for what, _, _ in of_turns(475.0, 1, None)} >= {"rounding to the clock's ticks"}


def test_many_edges_that_keep_step_tell_no_more_than_the_first_and_the_last() -> None:
    ticks = np.arange(60) * 1000
    fit = fitted(ticks, 12, 200)
    assert fit is not None
    ((what, standard, _),) = of_fit(fit, 200)
    assert what == "time between two looks at the inputs"
    assert standard == pytest.approx((200 / 6**0.5) / 59_000)


@pytest.mark.parametrize(("every", "left_out"), [(1, 2), (90, 0)])
def test_a_pulse_of_one_look_may_have_been_two_looks_long_and_is_no_glitch(every: int, left_out: int) -> None:
    """90 ticks are below the 100 us of a glitch where edges have their own times; between looks it may be 179."""
    inputs = tuple(replace(each, look_ticks=every) for each in HALLS)
    edges = [(9000 * k, FORWARD_120[k % 6]) for k in range(1, 12)]
    edges = sorted([*edges, (40_500, FORWARD_120[4] ^ 1), (40_590, FORWARD_120[4])])
    assert tail_of(train(inputs, edges, before=5), BITS, 0, 120_000, 20).glitches == left_out


def test_a_counter_that_is_looked_at_has_it_in_its_budget() -> None:
    budgets = []
    for every in (1, 500):
        its = replace(pulse_input(60)[0], look_ticks=every)
        counts = CountTrain(
            Input(its.index, its.kind, its.name, its.bit, 60, every), 1e6, *words(), (0, 200_000), clock=Part(1e-7)
        )
        budgets.append(budget(counts))
    one, other = budgets
    assert other["time between two looks at the inputs"] == pytest.approx(500 * one["rounding to the clock's ticks"])


def words() -> tuple[np.ndarray, np.ndarray]:
    return np.array([10_000, 60_000, 110_000, 160_000]), np.array([0, 30, 60, 90])


def budget(counts: CountTrain) -> dict[str, float]:
    return {what: standard for what, standard, _ in from_counts(counts, 0, 200_000, 5.0).parts}
