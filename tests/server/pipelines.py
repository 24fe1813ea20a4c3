"""Streams through a pipeline of their own, and what it said."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from firmware_protocol import (
    Identity,
    Message,
    encode_frame,
)
from server.config import RigSettings
from server.pipeline import Output, Pipeline
from server.readings import Instant, Reading

SHORT = ((0.3, 0.0, 0.0, 0.0), (0.5, 230.0, 1.5, 1400.0), (0.7, 230.0, 0.5, 1400.0))
RIG = RigSettings("bench")


def wire(messages: Sequence[Message], boot: int = 1, start: int = 0) -> bytes:
    return b"".join(encode_frame(each, sequence=start + k, boot=boot) for k, each in enumerate(messages))


def run(data: bytes, *cuts: int) -> list[Output]:
    pipeline = Pipeline(RIG)
    ends = [0, *sorted(cuts), len(data)]
    return [part for a, b in pairwise(ends) for part in pipeline.push(data[a:b], 0.0).parts]


def told(outputs: list[Output]) -> tuple[object, ...]:
    """All that was said, list by list."""
    return (
        [each for output in outputs for each in output.instants],
        [each for output in outputs for each in output.events],
        [each for output in outputs for each in output.damage],
        [(each.channel.index, each.tick, each.value) for output in outputs for each in output.slow],
        [tick for output in outputs if output.edges is not None for tick in output.edges.ticks.tolist()],
        [value for output in outputs for each in output.samples for value in each.values[-1].tolist()],
        [each.board_s.tolist() for output in outputs for each in output.fast],
        [output.described for output in outputs if output.described],
        sum(output.frames for output in outputs),
    )


def instants(outputs: list[Output]) -> list[Instant]:
    return [each for output in outputs for each in output.instants]


def reading(instant: Instant, key: str) -> Reading:
    return next(each for each in instant.readings if each.id == key)


def reading_ids(instant: Instant) -> set[str]:
    return {each.id for each in instant.readings}


def replace_boot(messages: list[Message]) -> list[Message]:
    return [replace(each, boot=8) if isinstance(each, Identity) else each for each in messages]
