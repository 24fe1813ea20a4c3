"""core/sampler.c, edges.c: whatever the line does, each set and each edge comes under its number or is counted."""

from fractions import Fraction

import pytest

from firmware_protocol import Edges, Samples12, Word
from tests.firmware_protocol.firmware.c_core import Core
from tests.firmware_protocol.firmware.host_board import Group, HostBoard, messages
from tests.firmware_protocol.firmware.worlds import run

WORLDS = 40


@pytest.fixture(scope="module")
def lost(core: Core) -> list[dict[str, int]]:
    return [run(core, seed) for seed in range(WORLDS)]


def test_all_accounts_are_right_in_any_world(lost: list[dict[str, int]]) -> None:
    assert len(lost) == WORLDS  # `run` has checked them


def test_each_kind_of_loss_happened_and_some_worlds_lost_nothing(lost: list[dict[str, int]]) -> None:
    assert all(sum(1 for one in lost if one[kind]) > 3 for kind in lost[0])
    assert any(one["dropped"] == 0 for one in lost)


def test_codes_of_an_odd_number_are_packed_across_sets_and_end_with_a_half(core: Core) -> None:
    """Three codes 0, -1, 511: the example of SPEC.md, section 10."""
    board = HostBoard(core, (Group(3, Word.PACKED12, 1, Fraction(1000)),))
    messages(board.step(60))
    board.take(0, [[0, -1, 511]])
    (block,) = (one for one in messages(board.step(5)) if isinstance(one, Samples12))
    assert block.words.hex() == "8878777709"


def test_two_changes_within_one_tick_are_one_edge_while_it_waits(core: Core) -> None:
    board = HostBoard(core, (Group(1, Word.INT16, 4, Fraction(1000)),))
    messages(board.step(60))
    board.edge(70_000, 1)
    board.edge(70_000, 3)
    board.edge(70_000, 3)
    board.edge(70_001, 2)
    board.take(0, [[0]] * 4)
    (edges,) = (one for one in messages(board.step(220)) if isinstance(one, Edges))
    assert (edges.ticks, edges.states) == ((70_000, 70_001), b"\x03\x02")
