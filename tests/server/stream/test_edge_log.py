"""Edges as they are known, and where some may have been lost."""

from firmware_protocol import Edges, InputDescription, InputKind, Status
from server.stream.edge_log import EdgeLog, joined

SHAFT = InputDescription(0, InputKind.PULSE, "shaft", 0, pulses_per_turn=1)
TURNED = InputDescription(1, InputKind.PULSE, "other", 3, pulses_per_turn=1, inverted=True)


def log(*inputs: InputDescription) -> EdgeLog:
    return EdgeLog(inputs or (SHAFT,), 1_000_000)


def edges(first_edge: int, *ticks: int) -> Edges:
    return Edges(first_edge, ticks, bytes((first_edge + k + 1) % 2 for k in range(len(ticks))))


def test_edges_and_the_level_before_them_come_back() -> None:
    its = log()
    its.levels(Status(0, True, 0))
    its.take(edges(0, 100, 250, 300))
    train = its.train(0, 400, 400)
    assert (train.ticks.tolist(), train.states.tolist(), train.before) == ([100, 250, 300], [1, 0, 1], 0)
    assert (train.known_from_tick, train.known_to_tick, train.uncertain) == (0, 400, ())


def test_inversion_is_undone_and_bits_without_an_input_are_left_out() -> None:
    its = log(SHAFT, TURNED)
    its.levels(Status(0, True, 0b0000))
    its.take(Edges(0, (10, 20, 30), bytes((0b0001, 0b0101, 0b1001))))
    train = its.train(0, 100, 100)
    assert train.before == 0b1000
    assert (train.ticks.tolist(), train.states.tolist()) == ([10, 30], [0b1001, 0b0001])


def test_lost_frames_leave_a_span_that_the_numbers_of_edges_take_away_again() -> None:
    its = log()
    its.levels(Status(0, True, 0))
    its.take(edges(0, 100))
    its.heard(150)
    its.lost()
    its.heard(200)
    assert its.train(0, 300, 300).uncertain == ((150, 200),)
    its.take(edges(1, 260))
    assert its.train(0, 300, 300).uncertain == ()


def test_a_span_stays_where_the_numbers_say_that_edges_were_lost() -> None:
    its = log()
    its.levels(Status(0, True, 0))
    its.take(edges(0, 100))
    its.heard(150)
    its.lost()
    its.heard(200)
    report = its.take(edges(4, 260))
    assert report is not None
    assert report.text == "3 edges did not come"
    assert its.train(0, 300, 300).uncertain == ((150, 200),)


def test_edges_that_the_board_itself_dropped_leave_a_span_since_the_last_one() -> None:
    its = log()
    its.levels(Status(0, True, 0))
    its.take(edges(0, 100))
    its.take(edges(2, 260))
    assert its.train(0, 300, 300).uncertain == ((100, 260),)
    its.levels(Status(300, True, 0, lost_edges=1))
    assert its.train(0, 400, 400).uncertain == ((0, 300), (100, 260))


def test_a_level_that_changed_during_a_loss_is_known_again_from_the_status_on() -> None:
    its = log()
    its.levels(Status(0, True, 0))
    its.heard(150)
    its.lost()
    its.levels(Status(200, True, 1))
    train = its.train(0, 300, 300)
    assert (train.ticks.tolist(), train.states.tolist()) == ([200], [1])
    assert train.uncertain == ((150, 200), (200, 200))


def test_the_newest_tick_at_which_the_board_told_the_levels_is_known() -> None:
    its = log()
    for tick in (0, 200, 400):
        its.levels(Status(tick, True, 0))
    assert [its.train(0, end, end).level_tick for end in (100, 200, 201, 500)] == [0, 0, 200, 400]


def test_what_is_still_being_lost_is_uncertain_to_the_end() -> None:
    its = log()
    its.levels(Status(100, True, 0))
    its.lost()
    assert its.train(0, 300, 300).uncertain == ((100, 300),)


def test_edges_older_than_what_is_known_are_left_out_and_reported() -> None:
    its = log()
    its.levels(Status(500, True, 0))
    report = its.take(edges(0, 400))
    assert report is not None
    assert report.kind == "late"
    assert its.train(0, 600, 600).ticks.size == 0
    assert its.train(0, 600, 600).uncertain == ((400, 500),)


def test_a_train_reaches_back_36_s_or_640_edges() -> None:
    its = log()
    its.levels(Status(0, True, 0))
    ticks = range(1000, 3_000_000, 1000)
    its.take(edges(0, *ticks))
    train = its.train(2_900_000, 3_000_000, 3_000_000)
    assert train.ticks.size == 640 + 100
    assert train.known_from_tick == train.ticks[0]
    assert its.train(40_000_000, 40_200_000, 40_200_000).ticks.size == 0
    assert its.train(40_000_000, 40_200_000, 40_200_000).known_from_tick == 4_000_000


def test_memory_is_bounded_and_fresh_edges_come_once() -> None:
    its = log()
    its.levels(Status(0, True, 0))
    seen = 0
    for start in range(0, 200_000, 100):
        its.take(edges(start, *range(start + 1, start + 101)))
        fresh = its.fresh()
        assert fresh is not None
        seen += fresh.ticks.size
    assert seen == 200_000
    assert its.fresh() is None
    assert len(its._ticks) < 50_000


def test_levels_that_no_edge_led_to_are_reported_and_make_the_time_since_the_last_status_uncertain() -> None:
    its = log()
    assert its.levels(Status(0, True, 0)) is None
    its.take(edges(0, 100, 200))
    assert its.levels(Status(300, True, 0)) is None
    report = its.levels(Status(600, True, 1))
    assert report is not None
    assert (report.kind, report.text) == ("contradiction", "The inputs had levels that no edge had led to")
    assert its.train(0, 700, 700).uncertain == ((300, 600),)
    assert its.levels(Status(900, True, 1)) is None


def test_spans_are_bounded_whatever_a_board_says_and_hide_nothing() -> None:
    its = log()
    its.levels(Status(0, True, 0))
    for k in range(5000):
        for _ in range(3):
            its.lost()
            its.heard(1000 * k + 10)
        its.levels(Status(1000 * k + 20, True, k % 2, lost_edges=k))
        its.take(edges(3 * k, 500, 600))  # older than what is known
    uncertain = its.train(4_999_000, 5_000_000, 5_000_000).uncertain
    assert len(uncertain) < 200
    assert uncertain[0][0] <= 500
    assert uncertain[-1][1] >= 4_999_000


def test_a_counter_has_no_place_in_the_state() -> None:
    its = log(InputDescription(0, InputKind.COUNTER, "pulses", 0, inverted=True), SHAFT)
    its.levels(Status(0, True, 0))
    its.take(edges(0, 100))
    train = its.train(0, 200, 200)
    assert (train.before, train.states.tolist()) == (0, [1])


def test_trains_that_follow_each_other_join() -> None:
    its = log()
    its.levels(Status(0, True, 0))
    trains = []
    for first in (0, 2, 4):
        its.take(edges(first, first * 100 + 50, first * 100 + 150))
        fresh = its.fresh()
        assert fresh is not None
        trains.append(fresh)
    whole = joined(trains)
    assert whole is not None
    assert whole.ticks.tolist() == [50, 150, 250, 350, 450, 550]
    assert whole.before == 0
    assert joined([]) is None


def test_of_a_board_that_waited_the_numbers_say_whether_edges_were_not_sent() -> None:
    """A board that waits numbers its edges and sends none of them, and loses none (SPEC.md, 7)."""
    for first_edge, spans in ((0, ()), (3, ((100, 250),))):
        its = log()
        its.levels(Status(100, False, 0))
        assert its.train(0, 200, 200).uncertain == ((100, 200),)
        assert its.take(edges(first_edge, 250)) is None
        assert its.train(0, 300, 300).uncertain == spans
        its.levels(Status(400, False, (first_edge + 1) % 2))
        assert its.take(edges(first_edge + 5, 600)) is None
        assert its.train(0, 700, 700).uncertain == (*spans, (400, 600))
