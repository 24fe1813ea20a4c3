"""Which edges a reading starts from: glitches left out, other inputs left out, only so many looked at."""

from firmware_protocol import InputKind
from server.hall.tail import doubt_in, tail_of
from server.samples import Input
from tests.server.hall.shafts import HALLS, train, turning

BITS = (0, 1, 2)


def test_all_edges_of_a_clean_shaft_are_kept() -> None:
    edges = turning(1000, 1, 12)
    tail = tail_of(train(HALLS, edges, before=4), BITS, 0, 10**7, 20)
    assert list(zip(tail.ticks.tolist(), tail.states.tolist(), strict=True)) == edges
    assert tail.before == 4
    assert tail.glitches == 0


def test_a_pair_of_opposite_edges_within_100_us_is_left_out() -> None:
    edges = turning(1000, 1, 6)  # every 10 ms
    glitch = [(25_000, 7), (25_060, 3)]  # state 3 since 20 ms; Hall C jumps up for 60 us
    tail = tail_of(train(HALLS, sorted(edges + glitch), before=4), BITS, 0, 10**7, 20)
    assert tail.ticks.tolist() == [tick for tick, _ in edges]
    assert tail.glitches == 2


def test_chatter_on_an_edge_leaves_the_last_of_its_edges() -> None:
    edges = [(10_000, 5), (20_000, 1), (20_030, 5), (20_050, 1), (30_000, 3)]
    tail = tail_of(train(HALLS, edges, before=4), BITS, 0, 10**7, 20)
    assert tail.states.tolist() == [5, 1, 3]
    assert tail.ticks.tolist() == [10_000, 20_050, 30_000]


def test_a_fast_motor_keeps_its_short_sectors() -> None:
    # 15 pole pairs at 6000 r/min: 111 us a sector; where sectors are as short, back and forth in 94 us is no glitch
    edges = [(0, 5), (111, 1), (205, 5), (310, 4)]
    tail = tail_of(train(HALLS, edges, before=4), BITS, -1, 10**7, 20)
    assert tail.states.tolist() == [5, 1, 5, 4]


def test_changes_of_other_inputs_vanish() -> None:
    inputs = (*HALLS, Input(3, InputKind.PULSE, "shaft pulse", 3, 1))
    edges = [(10_000, 5), (12_000, 5 | 8), (14_000, 5), (20_000, 1)]
    tail = tail_of(train(inputs, edges, before=4), BITS, 0, 10**7, 20)
    assert tail.ticks.tolist() == [10_000, 20_000]


def test_only_so_many_edges_before_the_window_are_looked_at() -> None:
    edges = turning(1000, 1, 200, start=1)
    tail = tail_of(train(HALLS, edges, before=4), BITS, 1_500_000, 10**7, 8)
    assert tail.ticks[0] == edges[140][0]  # edge 150 is the first after 1.5 s; 8 and 2 more before it
    assert tail.before == edges[139][1]
    assert tail.first_tick == edges[139][0]


def test_nothing_after_the_moment_counts() -> None:
    tail = tail_of(train(HALLS, turning(1000, 1, 200), before=4), BITS, 0, 55_000, 8)
    assert tail.ticks.tolist() == [0, 10_000, 20_000, 30_000, 40_000, 50_000]


def test_edges_may_be_missing_in_spans_and_after_what_is_known() -> None:
    known = train(HALLS, [], known_to=1000, uncertain=((100, 200),))
    assert doubt_in(known, 150, 160)
    assert doubt_in(known, 0, 100)
    assert not doubt_in(known, 201, 1000)
    assert doubt_in(known, 201, 1001)
