"""A channel that a person names: read so from there on, live and in a replay; the board's own word stays beside it."""

from dataclasses import replace
from pathlib import Path

from firmware_protocol import Role
from server.config import ChannelSettings, Limit, MotorSettings
from server.live.view import View
from server.pipeline import Pipeline
from server.runs.library import Library
from server.runs.recording import Recording
from server.runs.replay import Replay
from tests.server.pipelines import RIG, instants, reading_ids
from tests.server.tiny_board import CURRENT, VOLTAGE, TinyBoard

UNNAMED = TinyBoard(channels=(VOLTAGE, replace(CURRENT, role=Role.OTHER, name="X", place="")))
NAMED = replace(RIG, channels=(ChannelSettings("X", "current", "line"),))
LONG = ((2.0, 230.0, 0.5, 1400.0), (2.0, 230.0, 0.7, 1380.0))


def halves() -> tuple[bytes, bytes]:
    data = UNNAMED.wire(LONG)
    return data[: len(data) // 2], data[len(data) // 2 :]


def test_a_role_that_is_set_makes_the_readings_of_that_role_from_there_on() -> None:
    pipeline = Pipeline(RIG)
    first, second = halves()
    before = pipeline.push(first, 0.0)
    assert not any("current_rms_a" in reading_ids(each) for each in instants([before]))
    clock = pipeline.clock
    changed = pipeline.change(NAMED)
    assert pipeline.clock is clock  # the board goes on, and with it what is known of its clock
    after = pipeline.push(second, 0.0)
    assert any("current_rms_a" in reading_ids(each) for each in instants([after]))
    assert [each.kind for each in (*changed.damage, *after.damage)] == []
    assert changed.described is not None
    assert [each.role for each in changed.described.channels] == [Role.VOLTAGE, Role.OTHER]
    assert [each.role for each in changed.described.held_channels] == [Role.VOLTAGE, Role.CURRENT]


def test_from_the_beginning_it_is_the_same_as_a_board_that_says_so_itself() -> None:
    said = Pipeline(RIG).push(TinyBoard(channels=(VOLTAGE, replace(CURRENT, name="X"))).wire(LONG), 0.0)
    held = Pipeline(NAMED).push(UNNAMED.wire(LONG), 0.0)
    assert instants([held]) == instants([said])


def test_what_this_board_cannot_mean_is_told_and_left_out() -> None:
    pipeline = Pipeline(replace(RIG, channels=(ChannelSettings("X", "voltage"),)))
    output = pipeline.push(UNNAMED.wire(LONG), 0.0)
    said = "channel X measures in A, a voltage is in V; choose a role that goes with its unit"
    assert pipeline.set_aside == (said,)
    assert [(each.kind, each.text) for each in output.damage] == [
        ("channels", f"What was set for a channel is not used: {said}")
    ]
    assert any("voltage_rms_v" in reading_ids(each) for each in instants([output]))


def test_what_is_only_shown_otherwise_begins_nothing_anew() -> None:
    pipeline, twin = Pipeline(RIG), Pipeline(RIG)
    first, second = halves()
    for each in (pipeline, twin):
        each.push(first, 0.0)
    pipeline.change(replace(RIG, speed_unit="rad/s", limits=(Limit("current_rms_a", high=1.0),), baud=600))
    assert instants([pipeline.push(second, 0.0)]) == instants([twin.push(second, 0.0)])


def test_a_change_of_channels_replays_bit_for_bit(tmp_path: Path) -> None:
    library = Library(tmp_path)
    recording, shown, now_s = Recording(RIG, library), list(instants([])), 1_795_615_320.0
    recording.connected(now_s)
    for part, settings in zip(halves(), (NAMED, replace(NAMED, motor=MotorSettings("mine"))), strict=True):
        shown += instants(recording.chunk(part, now_s))
        shown += instants(recording.change(settings, now_s))
        now_s += 2.0
    recording.stop(now_s)
    library.close()
    (run,) = [path for path in tmp_path.iterdir() if path.is_dir()]
    again = instants([part for each in Replay(run) if each.output is not None for part in each.output.parts])
    assert again == shown
    assert any("current_rms_a" in reading_ids(each) for each in again)


def test_the_page_is_told_both_words_and_what_was_not_used() -> None:
    pipeline, view = Pipeline(NAMED), View("bench")
    for part in pipeline.push(UNNAMED.wire(LONG), 0.0).parts:
        view.take(part, part.clock)
    view.set_aside = ("a sentence",)
    board = view.board_record()
    assert board is not None
    assert board["set_aside"] == ["a sentence"]
    told = board["channels"]
    assert isinstance(told, list)
    assert [(each["role"], each["place"], each["said"]) for each in told] == [
        ("voltage", "supply", None),
        ("current", "line", {"role": "other", "place": ""}),
    ]
    assert told[1]["step"] == CURRENT.scale
    assert told[1]["noise_rms"] == CURRENT.scale
