"""A description is complete when all that its identity names has come."""

from dataclasses import replace

from firmware_protocol import Identity
from server.stream.describing import Describer, Saying
from tests.server.tiny_board import SHAFT, TinyBoard

BOARD = TinyBoard()
REST: list[Saying] = [*BOARD.channels, *BOARD.inputs]


def identity() -> Identity:
    first = BOARD.description()[0]
    assert isinstance(first, Identity)
    return first


IDENTITY = identity()


def test_it_is_complete_with_its_last_part_in_any_order() -> None:
    describer = Describer()
    assert describer.take(IDENTITY) is None
    said = [describer.take(each) for each in reversed(REST)]
    assert said[:-1] == [None] * (len(said) - 1)
    assert said[-1] is not None
    assert said[-1].messages == (IDENTITY, *REST)


def test_parts_that_came_before_the_identity_count_if_the_stream_began_with_them() -> None:
    describer = Describer()
    for each in REST:
        assert describer.take(each) is None
    assert describer.take(IDENTITY) is not None


def test_a_new_identity_takes_nothing_over_from_the_last_description() -> None:
    describer = Describer()
    for each in (IDENTITY, *REST):
        describer.take(each)
    assert describer.take(replace(IDENTITY, boot=2)) is None
    assert describer.take(SHAFT) is None


def test_after_a_restart_of_the_board_only_what_follows_counts() -> None:
    describer = Describer()
    describer.take(SHAFT)
    describer.started()
    for each in REST[:-1]:
        describer.take(each)
    assert describer.take(IDENTITY) is None
    assert describer.take(SHAFT) is not None
