"""What a board makes of edges: missed, doubled, or only looked at now and then."""

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from firmware_protocol import Decoder, Edges, InputDescription, Received
from simulator import bench
from simulator.bench import bench_board, bench_motor
from simulator.bench.motor import read_motor
from simulator.capture import BACK_S, Capture

BENCH = Path(bench.__file__).parent

STATES = np.array([5, 1, 3, 2, 6, 4], np.uint8)


def _edges(count: int) -> tuple[np.ndarray, np.ndarray]:
    """One edge a millisecond, forward through the six states; 4 before the first."""
    return 1e-3 * np.arange(1, count + 1) + 1.3e-5, np.resize(STATES, count)


def test_without_controls_each_edge_goes_through_as_it_is() -> None:
    times, states = _edges(50)
    told = Capture(1, 4).seen(times, states, 1.0, {})
    assert told[0] is times
    assert told[1] is states


def test_some_are_missed_and_the_next_one_steps_by_two() -> None:
    times, states = _edges(3000)
    seen_s, seen = Capture(1, 4).seen(times, states, 4.0, {"edges_missed": 0.1})
    assert seen.size == pytest.approx(2700, abs=60)
    assert np.all(np.isin(seen_s, times))
    place = {int(state): k for k, state in enumerate(STATES)}
    steps = [(place[int(b)] - place[int(a)]) % 6 for a, b in pairwise(seen)]
    assert steps.count(2) == pytest.approx(0.1 * 0.9 * 2700, abs=60)
    assert steps.count(1) > 2300


def test_some_come_doubled_back_and_forth_within_microseconds() -> None:
    times, states = _edges(2000)
    seen_s, seen = Capture(2, 4).seen(times, states, 3.0, {"edges_doubled": 0.05})
    doubled = (seen.size - 2000) / 2
    assert doubled == pytest.approx(100, abs=35)
    assert np.all(np.diff(seen_s) > 0)
    back = [k for k in range(2, seen.size) if seen[k] == seen[k - 2]]  # there and back again
    assert len(back) in (2 * doubled, 2 * doubled - 1)  # what was before the first edge is not in the list
    gaps = [seen_s[k] - seen_s[k - 1] for k in back]
    assert min(gaps) >= BACK_S[0]


def test_inputs_that_are_looked_at_show_what_the_look_finds_however_the_time_is_cut() -> None:
    times, states = _edges(100)
    whole_s, whole = Capture(1, 4).seen(times, states, 0.2, {"inputs_looked_us": 700.0})
    capture, pieces = Capture(1, 4), []
    for begin_s in np.arange(0, 0.2, 0.0103):
        now = (times >= begin_s) & (times < begin_s + 0.0103)
        pieces.append(capture.seen(times[now], states[now], begin_s + 0.0103, {"inputs_looked_us": 700.0}))
    assert np.concatenate([piece[0] for piece in pieces]) == pytest.approx(whole_s)
    assert np.concatenate([piece[1] for piece in pieces]).tolist() == whole.tolist()
    looks = whole_s / 700e-6
    assert looks == pytest.approx(np.round(looks))
    for look_s, state in zip(whole_s, whole, strict=True):
        assert states[np.flatnonzero(times <= look_s + 1e-12)[-1]] == state


def test_two_changes_between_two_looks_are_one_and_a_change_that_went_again_is_none() -> None:
    times, states = np.array([0.0101, 0.0102, 0.0203, 0.0204]), np.array([5, 1, 3, 1], np.uint8)
    seen_s, seen = Capture(1, 4).seen(times, states, 0.1, {"inputs_looked_us": 1000.0})
    assert (seen_s.tolist(), seen.tolist()) == ([pytest.approx(0.011)], [1])


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_board_that_its_file_has_look_now_and_then_says_so_and_keeps_to_it(tmp_path: Path, seed: int) -> None:
    """By its own clock, which is off by another part in each board."""
    file = tmp_path / "looker.yaml"
    whole = (BENCH / "net_winder.yaml").read_text(encoding="utf-8")
    file.write_text(whole.replace("stories:\n", "at_rest: {inputs_looked_us: 50}\nstories:\n", 1), encoding="utf-8")
    board = bench_board(read_motor(file), seed, story="by hand, then 1 A, then 3 A")
    found = [each.message for each in Decoder().feed(board.step(4.0)) if isinstance(each, Received)]
    inputs = [message for message in found if isinstance(message, InputDescription)]
    assert {each.look_ticks for each in inputs} == {50}
    ticks = [tick for message in found if isinstance(message, Edges) for tick in message.ticks]
    assert len(ticks) > 50
    assert len({tick % 50 for tick in ticks}) == 1
    usual = bench_board(bench_motor("net_winder"), seed, story="by hand, then 1 A, then 3 A")
    first = [each.message for each in Decoder().feed(usual.step(0.01)) if isinstance(each, Received)]
    assert {each.look_ticks for each in first if isinstance(each, InputDescription)} == {None}
