"""Bursts of 100 000 edges a second, as bouncing contacts make them: nothing lost, memory flat, CPU to spare."""

import tracemalloc
from collections.abc import Iterator, Sequence
from dataclasses import replace
from time import process_time

from firmware_protocol import Edges, Message, Samples, Status, encode_frame
from server.config import RigSettings
from server.pipeline import Pipeline
from tests.benchmarks.pairs import Row
from tests.server.tiny_board import HALL_STATES, HALLS, PLATE, TinyBoard

GOAL = "bursts"
EDGES_PER_S, BURST_S, CPU_S, GROWTH_MB = 100_000, 10.0, 10.0, 8.0
_TICK_US, _FRAME, _SLICE_TICKS = 10, 100, 10_000  # ticks between edges; edges in a frame; ticks in a push


def measure(pairs: int) -> list[Row]:
    """Two rows: CPU seconds for ten seconds of it, and by how much memory grew from their second to their last."""
    del pairs  # one burst is long enough
    (cpu_s, _), (_, grown_mb) = burst(BURST_S), burst(BURST_S, traced=True)
    return [
        Row(GOAL, "a million edges in 10 s, none lost", cpu_s, CPU_S, "CPU seconds"),
        Row(GOAL, "memory, from the 2nd second to the last", grown_mb, GROWTH_MB, "MB"),
    ]


def burst(seconds: float, *, traced: bool = False) -> tuple[float, float]:
    """CPU seconds of a burst that long, and where it is `traced` (which costs as much again) MB by which memory grew
    after its first fifth. AssertionError: edges were lost."""
    pieces = list(_pieces(seconds))
    pipeline, seen, cpu_s = Pipeline(RigSettings("r")), 0, 0.0
    held = [0.0, 0.0]
    if traced:
        tracemalloc.start()
    for number, data in enumerate(pieces):
        start = process_time()
        output = pipeline.push(data, 0.0)
        cpu_s += process_time() - start
        seen += 0 if output.edges is None else int(output.edges.ticks.shape[0])
        assert output.damage == (), output.damage
        if number <= len(pieces) // 5:
            held[0] = tracemalloc.get_traced_memory()[0] / 1e6
    held[1] = tracemalloc.get_traced_memory()[0] / 1e6
    tracemalloc.stop()
    assert seen == round(seconds * EDGES_PER_S), f"{seen} edges came through"
    return cpu_s, held[1] - held[0]


def _pieces(seconds: float) -> Iterator[bytes]:
    """The wire bytes, a hundredth of a second each; the first has the description."""
    board = TinyBoard(inputs=HALLS, plate=PLATE.replace("permanent_split_capacitor", "brushless"))
    story = list(board.messages(((0.1, 0.0, 0.0, 0.0),)))
    described = [each for each in story if not isinstance(each, Samples | Status | Edges)]
    block = next(each for each in story if isinstance(each, Samples))
    sequence = edge = 0

    def encoded(messages: Sequence[Message]) -> bytes:
        nonlocal sequence
        frames = [encode_frame(each, sequence=(sequence + k) % 65536, boot=1) for k, each in enumerate(messages)]
        sequence += len(messages)
        return b"".join(frames)

    yield encoded(described)
    for number in range(round(seconds * 1e6 / _SLICE_TICKS)):
        first_tick, messages = number * _SLICE_TICKS, list[Message]()
        for start in range(first_tick, first_tick + _SLICE_TICKS, _FRAME * _TICK_US):
            states = bytes(HALL_STATES[(edge + k + 1) % 6] for k in range(_FRAME))
            messages.append(Edges(edge, tuple(range(start + 5, start + _FRAME * _TICK_US, _TICK_US)), states))
            edge += _FRAME
        messages.append(replace(block, first_sample=10 * number, tick=first_tick))
        if number % 20 == 0:
            messages.append(Status(first_tick + _SLICE_TICKS - 1, True, HALL_STATES[edge % 6]))
        yield encoded(messages)
