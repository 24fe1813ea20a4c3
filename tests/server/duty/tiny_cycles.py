"""Cycles of the tiny board: a story of starts and stops, as the pipeline tells them."""

from collections.abc import Sequence
from functools import lru_cache

from firmware_protocol import Message, Samples
from server.config import RigSettings
from server.duty import Cycle
from server.pipeline import Pipeline
from tests.server.pipelines import wire
from tests.server.tiny_board import TinyBoard

Stretch = tuple[float, float, float, float]
REST: Stretch = (1.0, 0.0, 0.0, 0.0)
# One cycle: starts for 0.5 s, runs for 1.5 s, coasts for 1 s, rests for 1 s.
ON_S, OFF_S, COASTS_S, T95_S = 2.0, 2.0, 1.0, 0.475
CYCLE: tuple[Stretch, ...] = ((0.5, 230.0, 1.5, 1400.0), (1.5, 230.0, 0.5, 1400.0), (1.0, 0.0, 0.0, 0.0), REST)


def cycles_of(messages: Sequence[Message]) -> list[Cycle]:
    """Those that ended and the one under way."""
    pipeline = Pipeline(RigSettings("r"))
    output = pipeline.push(wire(messages), 0.0)
    ended = [cycle for part in output.parts for cycle in part.cycles]
    last = pipeline.cycle_under_way()
    return ended if last is None else [*ended, last]


@lru_cache(maxsize=8)
def messages_of(story: tuple[Stretch, ...], board: TinyBoard = TinyBoard()) -> tuple[Message, ...]:  # noqa: B008
    """What a board sends; making it takes as long as reading it."""
    return tuple(board.messages(story))


@lru_cache(maxsize=8)
def told(story: tuple[Stretch, ...], board: TinyBoard = TinyBoard()) -> list[Cycle]:  # noqa: B008  # frozen
    return cycles_of(messages_of(story, board))


def without(messages: Sequence[Message], from_s: float, to_s: float) -> list[Message]:
    """The same, but samples of this stretch were lost."""
    return [each for each in messages if not (isinstance(each, Samples) and from_s * 1e6 <= each.tick < to_s * 1e6)]
