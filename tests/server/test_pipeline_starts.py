"""Boards that start anew, change what they say of themselves or are others: nothing is read by a wrong description."""

from dataclasses import replace

import pytest

from firmware_protocol import (
    ChannelDescription,
    Identity,
)
from server.live.view import View
from server.pipeline import Pipeline
from server.readings import Confidence
from tests.server.pipelines import RIG, SHORT, instants, reading, reading_ids, replace_boot, run, wire
from tests.server.tiny_board import TinyBoard


def test_a_board_that_starts_anew_leaves_a_gap_and_is_read_like_a_fresh_one() -> None:
    first, second = TinyBoard(boot=7).wire(SHORT), TinyBoard(boot=8, seed=2).wire(SHORT)
    cut = len(first) * 2 // 3
    outputs = run(first[:cut] + b"\0" + second)
    assert [(each.text, each.detail) for output in outputs for each in output.events if each.kind == "board_reset"] == [
        ("Board started anew", "at earliest")
    ]
    assert [each.kind for output in outputs for each in output.damage if each.kind == "reset"] == ["reset"]
    fresh = instants(run(second))
    found = instants(outputs)
    assert found[-len(fresh) :] == fresh
    partial = reading(found[-len(fresh) - 1], "voltage_rms_v")
    assert partial.confidence is not Confidence.GOOD


@pytest.mark.parametrize("boot", [7, 7 + 256], ids=["the same number", "a number with the same low byte"])
def test_a_board_that_forgot_its_starts_is_read_again(boot: int) -> None:
    """The sequence goes back as far, or on as far, as it likes: ticks and the whole boot number tell."""
    pipeline = Pipeline(RIG)
    pipeline.push(TinyBoard(boot=7).wire(((5.0, 230.0, 0.5, 1400.0),)), 0.0)
    board = TinyBoard(boot=7)
    who, *rest = board.messages(((2.0, 230.0, 0.5, 1400.0),))
    assert isinstance(who, Identity)
    who = replace(who, boot=boot)
    told = [who, *rest[: len(board.description()) - 1]]  # asked for it, it says it again
    found = pipeline.push(wire([who, *rest[:30], *told, *rest[30:]], boot=7), 0.0).parts
    assert [each.kind for part in found for each in part.events if each.kind == "board_reset"] == ["board_reset"]
    rms = [reading(each, "voltage_rms_v") for each in found[-1].instants if len(each.readings) > 3]
    assert len(rms) >= 8
    assert [each.confidence for each in rms[1:]] == [Confidence.GOOD] * (len(rms) - 1)
    view = View("bench")
    for part in found:
        view.take(part, part.clock)
    assert view.board_s == pytest.approx(2.0, abs=0.1)


def test_frames_that_were_held_up_on_their_way_are_no_new_start() -> None:
    frames = TinyBoard().frames(((5.0, 230.0, 0.5, 1400.0),))
    late = [frames[k] for k in range(100, 104)]
    pipeline = Pipeline(RIG)
    found = pipeline.push(b"".join([*frames[:100], *frames[104:500], *late, *frames[500:]]), 0.0)
    assert not found.earlier
    assert [each.kind for each in found.damage].count("late") == 4


def test_what_was_said_before_a_restart_is_told_on_the_clock_of_its_own_start() -> None:
    """The first start lasted for 9 s, the second for 1.5 s: on the second's clock the end of the first is to come."""
    pipeline, began_s, now_s = Pipeline(RIG), 5000.0, 5011.0
    first = TinyBoard(boot=7).wire(((8.5, 230.0, 0.5, 1400.0), (0.5, 230.0, 0.5, 1400.0)))
    pipeline.push(first[:-9000], began_s + 8.0)
    holed = first[-5000:]
    outputs = pipeline.push(holed + b"\0" + TinyBoard(boot=8).wire(SHORT), now_s).parts
    times = [part.clock.utc_s(each.board_s) for part in outputs for each in part.instants]
    times += [part.clock.utc_s(each.board_s) for part in outputs for each in part.events]
    times += [part.clock.utc_s(each.board_s) for part in outputs for each in part.damage if each.board_s is not None]
    assert {"gap", "board_reset"} <= {each.kind for part in outputs for each in part.events}
    assert began_s + 7.0 < min(times) <= max(times) <= now_s
    view = View("bench")
    for part in outputs:
        view.take(part, part.clock)
    assert view.sample_utc_s is not None
    assert now_s - 0.1 < view.sample_utc_s < now_s + 0.02  # the newest block ends that long after its own tick
    assert view.board_s == pytest.approx(1.5, abs=0.1)


def test_after_a_restart_nothing_is_read_before_a_description_has_come() -> None:
    """It may be another board, whose ranges are others."""
    board = TinyBoard(boot=7)
    messages = replace_boot(board.messages(SHORT))
    told = len(board.description())
    later = wire(messages[told:], boot=8)
    outputs = run(board.wire(((0.5, 230.0, 0.5, 0.0),)) + later)
    assert instants(outputs)[-1].board_s == pytest.approx(0.6)  # the window that was open
    assert not outputs[-1].instants
    again = wire(messages[:told], boot=8, start=len(messages) - told) + wire(
        messages[told:], boot=8, start=len(messages)
    )
    found = run(board.wire(((0.5, 230.0, 0.5, 0.0),)) + later + again)[-1]
    assert [reading(each, "voltage_rms_v").confidence for each in found.instants if len(each.readings) > 3]


RANGES = [
    replace(each, scale=each.scale * 10) if isinstance(each, ChannelDescription) else each
    for each in TinyBoard().description()
]


@pytest.mark.parametrize("lost", range(1, 5))
def test_while_a_new_description_is_incomplete_nothing_is_read(lost: int) -> None:
    """A range was switched, and a frame of the new description was lost: the old scale is wrong by a factor of 10."""
    board = TinyBoard()
    messages = board.messages(((2.0, 230.0, 0.5, 1400.0),))
    who, *parts = RANGES
    assert isinstance(who, Identity)
    new = [replace(who, revision=1), *parts]
    del new[lost]
    half = len(messages) // 2
    outputs = run(wire([*messages[:half], *new, *messages[half:]]))
    good = [each for each in instants(outputs) if reading_ids(each) >= {"voltage_rms_v"}]
    assert max(each.board_s for each in good if reading(each, "voltage_rms_v").confidence is Confidence.GOOD) < 1.1


@pytest.mark.parametrize("refused", [{"major": 2}, {"tick_hz": 1}])
def test_after_a_description_that_cannot_be_used_nothing_is_read(refused: dict[str, int]) -> None:
    board = TinyBoard()
    messages = board.messages(((2.0, 230.0, 0.5, 1400.0),))
    who, *parts = board.description()
    assert isinstance(who, Identity)
    half = len(messages) // 2
    other = replace(who, **refused)  # type: ignore[arg-type]  # keywords of the test
    outputs = run(wire([*messages[:half], other, *parts, *messages[half:]]))
    assert max(each.board_s for each in instants(outputs)) < 1.3
    assert {"version", "description"} & {each.kind for output in outputs for each in output.damage}
