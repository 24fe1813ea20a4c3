"""Description frames that fit in front of a stream that begins anywhere."""

from firmware_protocol import Damage, Decoder
from server.config import RigSettings
from server.pipeline import Pipeline
from server.runs.kept import from_whole_frame, kept_frames
from tests.server.tiny_board import TinyBoard

BOARD = TinyBoard(boot=300)
WIRE = BOARD.wire()


def test_the_kept_frames_and_what_follows_are_one_stream_without_damage() -> None:
    pipeline = Pipeline(RigSettings("r"))
    described = pipeline.push(WIRE, 0.0).described
    assert described is not None
    following = from_whole_frame(WIRE[40_001:])
    whole = kept_frames(described, following) + following
    assert not [each for each in Decoder().feed(whole) if isinstance(each, Damage)]
    output = Pipeline(RigSettings("r")).push(whole, 0.0)
    assert output.described == described
    assert output.damage == ()
    assert len(output.instants) > 20


def test_without_a_stream_behind_it_the_description_still_stands() -> None:
    described = Pipeline(RigSettings("r")).push(WIRE, 0.0).described
    assert described is not None
    assert Pipeline(RigSettings("r")).push(kept_frames(described, b""), 0.0).described == described


def test_the_first_whole_frame_begins_behind_the_first_delimiter() -> None:
    assert from_whole_frame(b"end\0frame\0") == b"frame\0"
    assert from_whole_frame(b"nothing whole") == b"nothing whole"
