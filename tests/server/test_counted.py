"""Speed from a counter of pulses, from wire bytes on: value, source, uncertainty, and words lost, wrapped or reset."""

from dataclasses import replace

import pytest

from firmware_protocol import Counters, Message, encode_frame
from server.pipeline import Output
from server.readings import Confidence, Reading
from tests.server.counted import board, counter, told, words
from tests.server.pipelines import run, wire
from tests.server.pipelines import told as all_told
from tests.server.tiny_board import SHAFT, TinyBoard

RUNS = ((2.0, 230.0, 0.5, 1400.0),)


def last(outputs: list[Output], key: str) -> Reading:
    found = [each for output in outputs for instant in output.instants for each in instant.readings if each.id == key]
    return found[-1]


def speeds(outputs: list[Output]) -> list[Reading]:
    return [
        each
        for output in outputs
        for instant in output.instants
        for each in instant.readings
        if each.id == "counter_speed_rpm"
    ]


def damage(outputs: list[Output]) -> list[str]:
    return [each.text for output in outputs for each in output.damage]


@pytest.mark.parametrize(("rpm", "per_turn"), [(1400.0, 60), (37.0, 60), (3000.0, 1), (600.0, 4096)])
def test_a_steady_shaft_is_read_within_its_uncertainty_and_named_as_the_source(rpm: float, per_turn: int) -> None:
    outputs = run(wire(told(board(per_turn), RUNS, words(rpm, per_turn, 2_000_000))))
    found, speed = last(outputs, "counter_speed_rpm"), last(outputs, "speed_rpm")
    assert found.confidence is Confidence.GOOD
    assert found.uncertainty is not None
    assert found.uncertainty.low <= rpm <= found.uncertainty.high
    assert (speed.value, speed.uncertainty) == (found.value, found.uncertainty)
    assert last(outputs, "speed_source").value == "pulse counter"
    assert last(outputs, "slip").value == pytest.approx(1.0 - rpm / 1500.0, abs=1e-3)  # two pole pairs at 50 Hz


def test_the_budget_is_one_count_at_each_end_and_the_clock() -> None:
    # 60 pulses a turn at 1400 r/min: 1400 a second. Over the 250 ms from the word before the window to its last one,
    # 350 pulses: an even distribution over one count to either side has 1 / root 3 of it (JCGM 100, 4.3.7), each end.
    outputs = run(wire(told(board(60), RUNS, words(1400.0, 60, 2_000_000, first=25_000))))
    found = last(outputs, "counter_speed_rpm")
    assert found.uncertainty is not None
    parts = dict(found.uncertainty.parts)
    assert parts["one count at each end"] == pytest.approx(
        1400.0 * (2 / 3) ** 0.5 / 280, rel=0.02
    )  # 200 ms: no whole turn
    assert parts["board's clock"] == pytest.approx(1400.0 * 50e-6 / 3**0.5, rel=1e-3)


def test_a_count_that_goes_on_over_two_to_the_32_is_nothing_special() -> None:
    plain = run(wire(told(board(), RUNS, words(1400.0, 60, 2_000_000))))
    wrapped = run(wire(told(board(), RUNS, words(1400.0, 60, 2_000_000, start=2**32 - 900))))
    assert speeds(wrapped) == speeds(plain)
    assert damage(wrapped) == []


def test_words_that_are_lost_make_the_stretch_longer_and_nothing_wrong() -> None:
    frames = told(board(), RUNS, words(1400.0, 60, 2_000_000))
    counts = [k for k, each in enumerate(frames) if isinstance(each, Counters)]
    gone = set(counts[13:17])  # four in a row: 250 ms without one
    data = b"".join(encode_frame(m, sequence=k, boot=1) for k, m in enumerate(frames) if k not in gone)
    for each in speeds(run(data))[1:]:
        assert each.value == pytest.approx(1400.0, rel=2e-3), each
        assert each.confidence is Confidence.GOOD


def test_where_no_word_comes_any_more_the_old_speed_is_doubtful_and_then_gone() -> None:
    outputs = run(wire(told(board(), ((4.0, 230.0, 0.5, 1400.0),), words(1400.0, 60, 1_000_000))))
    found = {
        round(instant.board_s, 1): each
        for output in outputs
        for instant in output.instants
        for each in instant.readings
        if each.id == "counter_speed_rpm"
    }
    assert found[1.0].confidence is Confidence.GOOD
    assert (found[1.6].confidence, found[1.6].reason) == (
        Confidence.DOUBTFUL,
        "no count came for 0.65 s: speed of before",
    )
    assert (found[3.0].confidence, found[3.0].reason) == (Confidence.ABSENT, "no count came for 2 s")


def test_a_count_that_runs_backwards_begins_anew_and_says_so() -> None:
    before, after = (
        words(1400.0, 60, 1_000_000, start=5000),
        words(1400.0, 60, 2_000_000, first=1_000_000, start=2**32 - 1390),
    )
    outputs = run(wire(told(board(), RUNS, [*before, *after])))
    assert damage(outputs) == ["The count of counter 0 (shaft counter) ran backwards"]
    at_once, behind_it = (each for each in speeds(outputs) if each.reason)
    assert (at_once.value, at_once.reason) == (None, "the count began anew")
    assert behind_it.reason == "the count began anew in this window"
    assert behind_it.value == pytest.approx(1400.0)
    assert all(each.value == pytest.approx(1400.0, rel=1e-3) for each in speeds(outputs) if not each.reason)
    assert last(outputs, "counter_speed_rpm").confidence is Confidence.GOOD


def test_a_shaft_that_stops_is_bounded_by_its_silent_counts_and_then_stands() -> None:
    # 600 r/min of one pulse a turn until 1 s; from then on the same word, once a second.
    running = words(600.0, 1, 1_000_001)
    count, tick = running[-1][1:]
    story = ((18.0, 230.0, 0.5, 0.0),)
    still = [(sent, count, tick) for sent in range(2_000_000, 18_000_000, 1_000_000)]
    found = speeds(run(wire(told(board(1), story, [*running, *still]))))
    at_2_s, at_17_s = found[10], found[-5]
    assert at_2_s.reason == "no pulse for 0.94 s: at most this"
    assert at_2_s.value == pytest.approx(60.0 / 0.94, rel=0.01)  # one turn in the second since, less 50 ms on the way
    assert (at_17_s.value, at_17_s.confidence) == (0.0, Confidence.GOOD)


def test_edges_and_a_counter_that_differ_are_both_told() -> None:
    both = TinyBoard(inputs=(SHAFT, counter(60, 1)))
    # the shaft of the story turns at 1400 r/min at last, the counter is of another one
    story = ((0.2, 230.0, 0.5, 1400.0), (1.4, 230.0, 0.5, 1400.0))
    agree = run(wire(told(both, story, words(1400.0, 60, 1_600_000), index=1)))
    differ = run(wire(told(both, story, words(1000.0, 60, 1_600_000), index=1)))
    assert last(agree, "speed_rpm").confidence is Confidence.GOOD
    speed = last(differ, "speed_rpm")
    assert speed.value == pytest.approx(1400.0, rel=1e-3)
    assert speed.reason == "1400 r/min by edges of the window, 1000 r/min by pulse counter"


def test_a_word_that_comes_again_too_late_and_one_that_contradicts_itself_are_left_out() -> None:
    good = words(1400.0, 60, 2_000_000)
    bad = [(1_020_000, 1120, 800_000), (1_030_000, 1400, 1_025_000)]  # an old one; a new tick of the same count
    outputs = run(wire(told(board(), RUNS, [*good, *bad])))
    assert damage(outputs) == [
        "A count of counter 0 (shaft counter) came again or too late",
        "Count and tick of counter 0 (shaft counter) disagree",
    ]
    assert speeds(outputs) == speeds(run(wire(told(board(), RUNS, good))))


def test_a_board_that_only_counts_has_a_speed() -> None:
    alone = replace(board(), channels=())
    messages: list[Message] = [
        each
        for each in told(board(), RUNS, words(900.0, 60, 2_000_000))
        if type(each).__name__ in ("Counters", "Status")
    ]
    outputs = run(wire([*alone.description(), *messages]))
    assert last(outputs, "speed_rpm").value == pytest.approx(900.0, rel=2e-3)
    assert last(outputs, "speed_source").value == "pulse counter"


def test_readings_do_not_depend_on_how_the_bytes_were_cut() -> None:
    data = wire(told(board(), RUNS, words(1234.0, 60, 2_000_000)))
    cuts = range(100, len(data), 997)
    assert all_told(run(data, *cuts)) == all_told(run(data))


def test_a_counter_that_no_description_knows_is_reported() -> None:
    outputs = run(wire(told(board(), RUNS, words(1234.0, 60, 50_000), index=3)))
    assert damage(outputs) == ["Input 3 was counted, which is not described as a counter"]
    assert last(outputs, "counter_speed_rpm").reason == "no count came so far"
