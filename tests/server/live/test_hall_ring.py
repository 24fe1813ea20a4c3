"""The states of a turn are those of the six-step table with sensors 120 electrical degrees apart: 5 1 3 2 6 4."""

import numpy as np
import pytest

from firmware_protocol import InputKind
from server.live.hall_ring import HallRing
from server.live.latest import Latest
from server.readings import Instant, Reading
from server.samples import EdgeTrain, Input
from tests.server.live.blocks import Sync

HALLS = tuple(Input(k, InputKind.HALL, f"Hall {name}", k) for k, name in enumerate("ABC"))
TURN = (5, 1, 3, 2, 6, 4)


def train(
    states: list[int], ticks: list[int], before: int | None = None, inputs: tuple[Input, ...] = HALLS
) -> EdgeTrain:
    return EdgeTrain(inputs, 1e6, before, np.array(ticks, np.int64), np.array(states, np.uint8), 0, max([0, *ticks]))


def turning(turns_per_s: float, seconds: float) -> EdgeTrain:
    """Whole turns from board time 0 on; Hall A rises at the start of each."""
    count = round(turns_per_s * seconds) * 6
    ticks = np.round(np.arange(count) * 1e6 / (6 * turns_per_s)).astype(np.int64)
    return train(list(TURN) * (count // 6), ticks.tolist(), before=4)


def record(ring: HallRing, *readings: Reading, spacing_deg: int = 120) -> dict[str, object]:
    latest = Latest()
    latest.take(Instant(0, 0, 0.0, 0.2, readings), Sync())
    shown = ring.record(latest, spacing_deg)
    assert shown is not None
    return shown


def test_a_turn_is_seen_counted_and_its_rise_is_kept() -> None:
    ring = HallRing(HALLS)
    ring.take(turning(100.0, 0.02))
    shown = record(ring)
    assert shown["seen"] == [5, 1, 3, 2, 6, 4]
    assert shown["right"] == [5, 1, 3, 2, 6, 4]
    assert shown["counts"] == [0, 2, 2, 2, 3, 2, 2, 0]  # the 4 before the first edge is a state that was entered
    assert shown["state"] == 4
    np.testing.assert_allclose(ring.rises_s, [0.0, 0.01])


@pytest.mark.parametrize("pieces", [1, 2, 5, 12])
def test_the_ring_does_not_depend_on_how_the_edges_were_cut(pieces: int) -> None:
    whole, cut = HallRing(HALLS), HallRing(HALLS)
    edges = turning(100.0, 0.02)
    whole.take(edges)
    before: int | None = 4
    for part in np.array_split(np.arange(12), pieces):
        states, ticks = edges.states[part].tolist(), edges.ticks[part].tolist()
        cut.take(train(states, ticks, before))
        before = states[-1]
    assert record(cut) == record(whole)
    np.testing.assert_array_equal(cut.rises_s, whole.rises_s)


def test_an_edge_of_another_input_enters_no_state() -> None:
    ring = HallRing((*HALLS, Input(3, InputKind.PULSE, "shaft", 3)))
    ring.take(train([0b0101, 0b1101, 0b0101, 0b0001], [1, 2, 3, 4]))
    assert record(ring)["counts"] == [0, 1, 0, 0, 0, 1, 0, 0]


def test_the_bits_may_lie_anywhere_and_a_is_the_first_input() -> None:
    moved = tuple(Input(k, InputKind.HALL, "", bit) for k, bit in enumerate((6, 0, 3)))
    ring = HallRing(moved)
    ring.take(train([0b0100_0000, 0b0000_0001, 0b0000_1000], [1, 2, 3], inputs=moved))
    assert record(ring)["seen"] == [1, 2, 4]


def test_where_the_shaft_is_follows_the_newest_edge() -> None:
    ring = HallRing(HALLS)
    ring.take(train([1], [5], before=5))
    stale = Reading("electrical_deg", 47.0)
    assert record(ring, stale)["electrical_deg"] == 120.0  # the middle of sector 2: the reading is of sector 1
    assert record(ring, Reading("electrical_deg", 91.0))["electrical_deg"] == 91.0
    assert record(ring)["sector"] == 2


def test_an_illegal_state_has_no_sector() -> None:
    ring = HallRing(HALLS)
    ring.take(train([7], [5], before=5))
    shown = record(ring)
    assert (shown["state"], shown["sector"], shown["electrical_deg"]) == (7, None, None)
    assert record(ring, spacing_deg=60)["sector"] == 3


@pytest.mark.parametrize(("word", "number"), [("forward", 1), ("backward", -1), ("standing", 0)])
def test_direction_and_order_are_told_as_the_page_wants_them(word: str, number: int) -> None:
    shown = record(HallRing(HALLS), Reading("direction", word), Reading("commutation_valid", "wrong"))
    assert (shown["direction"], shown["valid"]) == (number, False)
    assert record(HallRing(HALLS))["direction"] is None


def test_without_three_hall_inputs_there_is_no_ring() -> None:
    ring = HallRing(HALLS[:2])
    ring.take(train([1], [1]))
    assert ring.record(Latest(), 120) is None


def test_a_whole_turn_reads_the_same_wherever_it_was_entered() -> None:
    for entered in range(6):
        ring = HallRing(HALLS)
        ring.take(train([*TURN[entered:], *TURN[:entered]], [1000 * k for k in range(6)]))
        assert record(ring)["seen"] == [5, 1, 3, 2, 6, 4]
