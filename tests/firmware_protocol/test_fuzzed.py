"""The small twin of `run.py prove fuzz`: what must hold for any bytes, over golden frames and damaged ones."""

import json
from random import Random

import pytest

from firmware_protocol.cobs import decode
from tests.firmware_protocol.fuzzed import CONTENTS, one_input
from tests.firmware_protocol.golden import FILE

WIRES = [bytes.fromhex(frame["wire"]) for frame in json.loads(FILE.read_text())]


@pytest.mark.parametrize("wire", WIRES)
def test_a_golden_frame_holds_as_a_stream_and_by_its_contents(wire: bytes) -> None:
    one_input(b"\0" + wire)
    one_input(bytes((CONTENTS,)) + decode(wire[:-1])[:-4])


def test_contents_and_streams_with_damage_hold() -> None:
    draw = Random(5)
    for _ in range(3000):
        wire = bytearray(draw.choice(WIRES) + draw.choice(WIRES))
        contents = bytearray(decode(draw.choice(WIRES)[:-1])[:-4])
        for its in (wire, contents):
            for _ in range(draw.randint(1, 4)):
                its[draw.randrange(len(its))] = draw.randrange(256)
        one_input(bytes((draw.randrange(CONTENTS),)) + wire)
        one_input(bytes((draw.randrange(CONTENTS, 256),)) + contents)
