"""Which turning the Wiring screen stands on: the last one that told something, and never one mixed with another."""

from dataclasses import replace

import pytest

from server.wiring.following import Fresh
from server.wiring.gathering import Gathering
from server.wiring.grounds import NOTHING_SAID
from server.wiring.order import order_verdict
from server.wiring.stretch import Stretch
from server.wiring.verdicts import verdicts
from server.wiring.visits import visits_of
from tests.server.wiring.turned import TICK_HZ, Hand, turned_by_hand

WINDOW = 200_000  # ticks


def stroke(hand: Hand, at: int, driven: bool = False) -> Fresh:
    """One stroke as one long window that begins at a tick."""
    tail, leads = turned_by_hand(hand)
    moved = replace(tail, ticks=tail.ticks + at)
    visits = visits_of(moved, None if driven else replace(leads, first_tick=float(at)), (), TICK_HZ)
    end = at + round(leads.count * leads.ticks_per_sample)
    most_v = None if driven else float(leads.spread.max())
    return Fresh(
        visits, moved, int(tail.states[-1]) if tail.ticks.size else tail.before, at, end, False, driven, most_v
    )


def rest(at: int, windows: int) -> list[Fresh]:
    """Nothing moves."""
    still = stroke(Hand(turns=0.01), 0)
    return [replace(still, first_tick=at + k * WINDOW, end_tick=at + (k + 1) * WINDOW) for k in range(windows)]


def gathered(*windows: Fresh, whole: bool = False) -> Gathering:
    gathering = Gathering(TICK_HZ, True, 0.02, whole)
    for fresh in windows:
        gathering.take(fresh, None)
    return gathering


def key(gathering: Gathering) -> str:
    return order_verdict(gathering.grounds(NOTHING_SAID)).verdict.key


LOCKS, RIGHT = Hand(halls=(0, 2, 1), turns=4.0), Hand(turns=4.0)


def test_a_pause_between_two_strokes_is_the_same_turning() -> None:
    windows = [stroke(RIGHT, 0), *rest(2_000_000, 8), stroke(RIGHT, 4_000_000)]
    assert gathered(*windows).grounds(NOTHING_SAID).induced > 40


def test_after_a_longer_rest_it_is_another_one_as_soon_as_it_tells_as_much() -> None:
    before = [stroke(LOCKS, 0), *rest(2_000_000, 20)]
    assert key(gathered(*before, stroke(replace(RIGHT, turns=0.9), 6_100_000))) == "commutation_locks"
    assert key(gathered(*before, stroke(RIGHT, 6_100_000))) == "commutation_good"


@pytest.mark.parametrize(("before", "after", "said"), [(LOCKS, RIGHT, "good"), (RIGHT, LOCKS, "locks")])
def test_wires_that_are_moved_while_it_turns_are_judged_by_the_newest_edges(
    before: Hand, after: Hand, said: str
) -> None:
    old = [stroke(before, 2_000_000 * k) for k in range(20)]
    new = [stroke(after, 2_000_000 * k) for k in range(20, 25)]
    gathering = gathered(*old, *new)
    assert key(gathering) == f"commutation_{said}"
    assert gathering.grounds(NOTHING_SAID).induced < 150  # of the five, and of no more than one before


def test_hands_that_turn_both_ways_are_one_turning() -> None:
    both = [stroke(replace(RIGHT, direction=1 - 2 * (k % 2), late_deg=8.0), 2_000_000 * k) for k in range(20)]
    assert gathered(*both).grounds(NOTHING_SAID).induced > 400


def test_signals_that_die_while_the_shaft_turns_on_leave_nothing_of_what_they_showed() -> None:
    turns_on = [replace(fresh, swept_deg=100.0, levels=7) for fresh in rest(2_000_000, 12)]
    assert key(gathered(stroke(RIGHT, 0), *turns_on[:7])) == "commutation_good"  # may be a slow sector
    dead = verdicts(gathered(stroke(RIGHT, 0), *turns_on).grounds(NOTHING_SAID))
    assert dead.verdicts[0].key == "hall_supply_missing"


def test_what_runs_under_power_neither_hides_nor_pushes_out_what_was_turned() -> None:
    windows = [stroke(RIGHT, 0), *(stroke(RIGHT, 2_000_000 * (k + 1), driven=True) for k in range(200))]
    gathering = gathered(*windows)
    assert key(gathering) == "commutation_good"
    driven = gathering.driven(NOTHING_SAID)
    assert driven is not None
    assert driven.driven_s > 100.0


def test_a_step_of_a_check_has_all_of_it_however_long_the_shaft_stood() -> None:
    windows = [stroke(RIGHT, 0), *rest(2_000_000, 20), stroke(RIGHT, 6_100_000), stroke(RIGHT, 9_000_000, driven=True)]
    grounds = gathered(*windows, whole=True).grounds(NOTHING_SAID)
    assert grounds.course.edges > 60
    assert grounds.driven_s > 1.0


@pytest.mark.parametrize("probed", [True, False])
def test_the_edges_that_count_are_those_of_the_grounds(probed: bool) -> None:
    stretch = Stretch(TICK_HZ, probed, 0.02)
    for fresh in (stroke(RIGHT, 0), stroke(RIGHT, 2_000_000, driven=True), stroke(LOCKS, 4_000_000)):
        stretch.take(fresh)
    grounds = stretch.grounds(NOTHING_SAID)
    assert 0 < grounds.induced < grounds.course.edges
    assert stretch.telling() == (grounds.induced if probed else grounds.course.edges)


def test_nothing_is_left_of_it_once_wires_were_moved() -> None:
    gathering = gathered(stroke(LOCKS, 0))
    gathering.anew()
    assert gathering.grounds(NOTHING_SAID).course.edges == 0


def test_a_motor_that_only_ran_under_power_is_not_said_to_stand() -> None:
    driven = [stroke(RIGHT, 2_000_000 * (k + 1), driven=True) for k in range(3)]
    first = verdicts(gathered(*rest(0, 3), *driven).grounds(NOTHING_SAID)).verdicts[0]
    assert first.key == "runs_under_power"
    assert "unplug the drive and turn" in first.answer
    assert verdicts(gathered(*rest(0, 3)).grounds(NOTHING_SAID)).verdicts[0].key == "nothing_moved"
    turned = verdicts(gathered(*driven, stroke(RIGHT, 9_000_000)).grounds(NOTHING_SAID)).verdicts
    assert "runs_under_power" not in [each.key for each in turned]
