"""What is counted of a board and its wire."""

from dataclasses import replace

from firmware_protocol import Identity, Status, encode_frame
from server.config import RigSettings
from server.live.view import View
from server.pipeline import Pipeline
from tests.firmware_protocol.independent import framed
from tests.server.tiny_board import TinyBoard

_NO_TYPE = 0x77


def test_what_a_later_version_adds_is_skipped_and_counted_and_is_no_damage() -> None:
    new = ((99, b"new"),)
    said = [replace(each, unknown=new) if isinstance(each, Identity) else each for each in TinyBoard().description()]
    said.append(Status(1000, True, 0, unknown=(*new, (98, b"newer"))))
    wire = b"".join(encode_frame(each, sequence=k, boot=1) for k, each in enumerate(said))
    view = View("bench")
    output = Pipeline(RigSettings("bench")).push(wire + framed(_NO_TYPE, 1, len(said), b"who knows"), 0.0)
    view.take(output, output.clock)
    damage = view.health.damage(True)
    assert (damage["unknown_frames"], damage["unknown_fields"], damage["frames_lost"]) == (1, 3, 0)
    assert (damage["last_text"], damage["last_utc_s"]) == ("", None)
