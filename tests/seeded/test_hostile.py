"""A board that lies can be refused, but it stops nothing and makes no number that is none."""

import json
import math
import warnings
from itertools import chain

import pytest

from server.config import RigSettings
from server.live.lines import lines_of
from server.live.packing import pack
from server.live.view import View
from server.pipeline import Pipeline
from server.readings import Confidence
from tests.seeded.hostile import HostileBoard


@pytest.mark.parametrize("first", range(0, 120, 20))
def test_a_board_that_lies_stops_neither_pipeline_nor_page(first: int) -> None:
    for seed in range(first, first + 20):
        watch(seed)


def no_number(word: str) -> None:
    raise AssertionError(f"a line holds {word}")


def watch(seed: int) -> None:
    """The way of one hostile board from its bytes to pictures and lines; fails naming the seed."""
    pipeline, view, now_s = Pipeline(RigSettings("bench")), View("bench"), 1.8e9
    for number, frame in enumerate(HostileBoard(seed).frames()):
        now_s += 0.005
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            outputs = pipeline.push(frame, now_s).parts
            for output in outputs:
                view.take(output, output.clock)
            if number % 7 == 0:
                pack(view.picture(now_s))
            for line in chain.from_iterable(lines_of(output, output.clock) for output in outputs):
                json.loads(line, parse_constant=no_number)
        for instant in chain.from_iterable(output.instants for output in outputs):
            for reading in instant.readings:
                if isinstance(reading.value, float):
                    assert math.isfinite(reading.value) or reading.confidence is not Confidence.GOOD, (seed, reading)
