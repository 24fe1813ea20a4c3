"""Bytes in, readings out: nothing depends on the cut, a restart is a gap, nothing stops the rest."""

from dataclasses import replace
from fractions import Fraction
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firmware_protocol import (
    ChannelDescription,
    ClockReply,
    Identity,
    Message,
    Samples,
    Single,
    Singles,
    Status,
    encode_frame,
)
from server.config import MotorSettings, Plate
from server.pipeline import Pipeline
from tests.seeded.damage import damaged
from tests.seeded.hostile import HostileBoard
from tests.server.pipelines import RIG, SHORT, instants, reading, reading_ids, run, told, wire
from tests.server.tiny_board import CURRENT, HALLS, SHAFT, TinyBoard

DAMAGED, _ = damaged(TinyBoard(inputs=HALLS).wire(SHORT), 3)
WHOLE = told(run(DAMAGED))


@settings(max_examples=25, deadline=None)
@given(st.lists(st.integers(0, len(DAMAGED)), max_size=40))
def test_what_is_said_does_not_depend_on_how_the_bytes_were_cut(cuts: list[int]) -> None:
    assert told(run(DAMAGED, *cuts)) == WHOLE


def test_byte_by_byte_is_the_same_too() -> None:
    data = DAMAGED[:6000]
    assert told(run(data, *range(1, 6000))) == told(run(data))


@pytest.mark.parametrize("seed", range(40))
def test_of_a_board_that_lies_it_is_the_same_too(seed: int) -> None:
    data = b"".join(HostileBoard(seed).frames())
    draw = Random(seed)
    assert repr(told(run(data, *(draw.randrange(len(data)) for _ in range(30))))) == repr(told(run(data)))


@pytest.mark.parametrize("every", [50, 400, 100_000])
def test_what_came_before_a_contradiction_is_said_whatever_the_cut(every: int) -> None:
    messages = TinyBoard().messages(((1.0, 230.0, 0.5, 1400.0),))
    blocks = [k for k, each in enumerate(messages) if isinstance(each, Samples)]
    for k in blocks[len(blocks) // 2 :]:  # a board that miscounts: numbers go back, time does not
        block = messages[k]
        assert isinstance(block, Samples)
        messages[k] = replace(block, first_sample=block.first_sample - 200)
    data = wire(messages)
    ends = [each.board_s for each in instants(run(data, *range(0, len(data), every))) if len(each.readings) > 3]
    assert ends == pytest.approx([0.2, 0.4, 0.6, 0.8, 1.0])


def test_groups_of_different_rates_and_single_samples_each_have_their_own_instants() -> None:
    board = TinyBoard(inputs=())
    (who, volts, amps, housing) = board.description()
    assert isinstance(amps, ChannelDescription)
    assert isinstance(who, Identity)
    slow = replace(amps, group=1, ticks_per_sample=Fraction(2000), place="", name="second")
    said: list[Message] = [who, volts, slow, housing]
    for k in range(60):
        said.append(Samples(0, 1, 20 * k, 20_000 * k, b"\x80\x80" * 20))
        said.append(Samples(1, 1, 10 * k, 20_000 * k, b"\x90\x80" * 10))
        if k == 30:
            said.append(Singles((Single(2, 0, 610_000, 2000),)))
    found = instants(run(wire(said)))
    ends = [(each.board_s, {reading.id for reading in each.readings} >= {"voltage_rms_v"}) for each in found]
    assert [end for end, is_voltage in ends if is_voltage] == pytest.approx([0.2, 0.4, 0.6, 0.8, 1.0])
    assert [each.board_s for each in found if reading_ids(each) == {"temperature_c.housing"}] == [0.61]
    assert sum("current_rms_a" in reading_ids(each) for each in found) == 5


def test_a_description_may_change_in_the_stream_and_is_told_once() -> None:
    one, other = TinyBoard(), TinyBoard(inputs=HALLS)
    messages = one.messages(((0.5, 230.0, 0.5, 0.0),))
    messages += one.description()  # said again: nothing new
    messages += other.description()
    outputs = run(wire(messages), *range(0, 6000, 50))
    described = [each.described.inputs for each in outputs if each.described is not None]
    assert described == [one.inputs, other.inputs]


def test_an_impossible_description_is_reported_and_not_used() -> None:
    who, volts, *rest = TinyBoard().description()
    assert isinstance(who, Identity)
    assert isinstance(volts, ChannelDescription)
    rushed = replace(volts, ticks_per_sample=Fraction(1), group=1)
    outputs = run(wire([replace(who, tick_hz=100_000_000), rushed, *rest]))
    (found,) = [each for output in outputs for each in output.damage]
    assert (found.kind, found.text) == (
        "description",
        "The description cannot be used: channel 0: 1e+08 samples a second are too many",
    )
    assert outputs[-1].described is None


def test_a_board_with_too_many_groups_is_refused_and_a_run_that_was_recorded_of_one_is_read() -> None:
    board = TinyBoard()
    more = [replace(CURRENT, index=3 + k, place=f"P{k}", group=1 + k) for k in range(16)]
    data = replace(board, channels=(*board.channels, *more)).wire(SHORT)
    refused, read = (Pipeline(RIG, live=live).push(data, 0.0) for live in (True, False))
    text = "channel 18: the first of 17 groups that is more than 16; channels of one rate go into one group"
    assert [each.text for each in refused.damage] == [f"The description cannot be used: {text}"]
    assert (refused.instants, read.damage) == ((), ())
    assert read.instants


def test_another_version_of_the_protocol_is_reported_and_not_read() -> None:
    who, *rest = TinyBoard().description()
    assert isinstance(who, Identity)
    outputs = run(wire([replace(who, major=9), *rest]))
    assert [each.kind for output in outputs for each in output.damage] == ["version"]
    assert outputs[-1].described is None


def test_a_block_that_does_not_fit_the_description_is_left_out() -> None:
    messages = [*TinyBoard().description(), Samples(0, 3, 0, 0, b"\x80\x80" * 3), Samples(5, 2, 0, 0, b"\x80\x80" * 2)]
    found = [each for output in run(wire(messages)) for each in output.damage]
    assert [each.kind for each in found] == ["contradiction", "contradiction"]
    assert "held 3 channels in words of 16 bits; the description has 2 of them" in found[0].text


def test_the_plate_of_the_board_holds_unless_a_person_set_a_motor() -> None:
    pipeline = Pipeline(RIG)
    pipeline.push(TinyBoard().wire(SHORT), 0.0)
    assert (pipeline.motor.name, pipeline.motor_source) == ("test fan", "board")
    mine = MotorSettings("mine", "brushless", Plate(current_a=3.0))
    pipeline.change(replace(RIG, motor=mine))
    assert (pipeline.motor, pipeline.motor_source) == (mine, "settings")
    pipeline.change(RIG)
    assert pipeline.motor_source == "board"


@pytest.mark.parametrize("plate", ["[motor]\nname = 5", '[motor]\ntype = "perpetual"', "not toml ="])
def test_a_plate_that_cannot_be_read_is_reported_and_not_used(plate: str) -> None:
    pipeline = Pipeline(RIG)
    output = pipeline.push(TinyBoard(plate=plate).wire(SHORT), 0.0)
    assert [each.kind for each in output.damage] == ["plate"]
    assert pipeline.motor == MotorSettings()
    state = reading(output.instants[0], "run_state")
    assert (state.value, state.reason) == ("unknown", "motor type not set")


def test_a_board_with_inputs_alone_has_readings_on_a_grid_of_its_own() -> None:
    board = TinyBoard(channels=(), inputs=(SHAFT,))
    messages = [each for each in board.messages(SHORT) if not isinstance(each, Samples | Singles)]
    found = instants(run(wire(messages)))
    assert [each.board_s for each in found] == pytest.approx([0.4, 0.6, 0.8, 1.0, 1.2, 1.4])
    assert reading(found[-1], "speed_rpm").value == pytest.approx(1400.0, rel=1e-3)


def test_a_clock_reply_synchronises_and_is_an_instant() -> None:
    pipeline = Pipeline(RIG)
    board = TinyBoard()
    pipeline.push(board.wire(SHORT), 1000.0)
    assert pipeline.clock.uncertainty_s is None
    reply = ClockReply(1_000_499_000, 1_500_000, 1_500_000)
    output = pipeline.push(encode_frame(reply, sequence=500, boot=1), 1000.501)
    assert pipeline.clock.uncertainty_s == pytest.approx(0.001)
    assert output.instants[-1].readings[0].key == "board_clock_drift_ppm"


def test_frames_and_the_newest_status_are_told() -> None:
    output = run(TinyBoard().wire(SHORT))[0]
    assert output.frames == len(TinyBoard().frames(SHORT))
    assert isinstance(output.status, Status)
    assert output.status.tick == 1_400_000


def test_rubbish_of_any_kind_raises_nothing() -> None:
    draw = Random(1)
    pipeline = Pipeline(RIG)
    pipeline.push(TinyBoard().wire(SHORT), 0.0)
    frames = TinyBoard().frames(SHORT)
    for _ in range(300):
        frame = bytearray(draw.choice(frames))
        frame[draw.randrange(len(frame))] = draw.randrange(256)
        pipeline.push(bytes(frame), 0.0)
    assert pipeline.push(draw.randbytes(5000), 0.0).frames <= 1
