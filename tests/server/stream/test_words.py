"""Blocks of 12 and 24 bits come to the codes that a stranger reads in them, and to the right values in a window."""

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware_protocol import (
    ChannelDescription,
    Identity,
    Message,
    Samples,
    Samples12,
    Samples24,
    Status,
    Word,
    encode_frame,
)
from server.config import RigSettings
from server.pipeline import Pipeline
from server.stream.words import codes_of, kept
from simulator.words import block_of
from tests.firmware_protocol.golden import SUPPLY
from tests.firmware_protocol.plain import codes_of as as_a_stranger
from tests.firmware_protocol.strategies import examples

KINDS = [(Word.INT16, Samples, 16), (Word.PACKED12, Samples12, 12), (Word.INT24, Samples24, 24)]


@pytest.mark.parametrize(("word", "kind", "bits"), KINDS)
@examples(100)
@given(st.data())
def test_codes_of_a_block_are_those_that_went_in(
    word: Word, kind: type[Message], bits: int, data: st.DataObject
) -> None:
    channels = data.draw(st.integers(1, 7))
    code = st.integers(-(1 << (bits - 1)), (1 << (bits - 1)) - 1)
    sets = data.draw(st.lists(st.lists(code, min_size=channels, max_size=channels), min_size=1, max_size=9))
    block = block_of(word, 3, 5, 7, np.array(sets, np.int32))
    assert isinstance(block, kind)
    assert as_a_stranger(block.words, channels, bits) == sets
    assert type(block).parse(block.payload()) == block
    words = kept(block).words
    assert codes_of(words, word).reshape(-1, channels).tolist() == sets


def wire(word: Word, message: Word) -> bytes:
    """One channel with words of one kind by its description, and a window of blocks of another."""
    high = (1 << (word.bits - 1)) - 1
    channel = ChannelDescription(
        0, SUPPLY.role, "U", "supply", "V", 1.0, 0.5, -high, high, 0, Fraction(1000), word=word
    )
    codes = np.arange(-100, 100, dtype=np.int32)[:, np.newaxis]
    said: list[Message] = [Identity(1, 0, 1, 1_000_000, 1, 0, "HB-1"), channel]
    said += [block_of(message, 0, 0, 0, codes), Status(200_001, True, 0)]
    return b"".join(encode_frame(each, sequence=k, boot=1) for k, each in enumerate(said))


@pytest.mark.parametrize("word", Word)
def test_a_window_has_the_values_of_its_codes(word: Word) -> None:
    output = Pipeline(RigSettings("r")).push(wire(word, word), 0.0)
    ((stretch,), (instant,)) = output.samples, output.instants
    assert stretch.values[0].tolist() == (np.arange(-100, 100) + 0.5).tolist()
    assert not stretch.clipped.any()
    mean = next(each.value for each in instant.readings if each.key == "voltage_mean_v")
    assert mean == pytest.approx(0.0)
    assert output.damage == ()


@pytest.mark.parametrize(
    ("word", "message"), [(word, message) for word in Word for message in Word if word is not message]
)
def test_blocks_in_other_words_than_described_are_reported_and_left_out(word: Word, message: Word) -> None:
    output = Pipeline(RigSettings("r")).push(wire(word, message), 0.0)
    assert len(output.samples) == 0
    (damage,) = output.damage
    assert damage.kind == "contradiction"
    assert f"in words of {message.bits} bits; the description has 1 of them in words of {word.bits} bits" in damage.text
