"""What a calibration under way holds on to, and what it sees of others that are kept meanwhile."""

import asyncio
import gc
import weakref
from collections.abc import Iterator
from pathlib import Path
from typing import cast

import numpy as np
import pytest

from firmware_protocol import WORD_CODING, Samples
from server.calibrating import Calibrating, Wish
from server.calibration.entry import What
from server.calibration.files import CalibrationFiles
from server.calibration.found import UnfitError
from server.config import RigSettings
from server.live.view import View
from server.pipeline import Description, Pipeline
from server.rig import Rig
from server.rigs import Rigs
from tests.server.calibration.boards import BOARD, gained
from tests.server.pipelines import wire


class Board:
    """As much of a rig as a calibration asks for, its current off by 10 codes; four seconds of nothing flowing."""

    def __init__(self) -> None:
        self.name, self.view, self.pipeline = "r", View("r"), Pipeline(RigSettings("r"))
        self._put(wire(BOARD.description()))

    @property
    def description(self) -> Description | None:
        return self.pipeline.description

    def _put(self, data: bytes) -> None:
        for part in self.pipeline.push(data, 0.0).parts:
            self.view.take(part, part.clock)

    def sample(self) -> None:
        codes = np.tile(np.array([0, 10]), 20)
        words = (codes.astype("<i2").view("<u2") ^ WORD_CODING).tobytes()
        blocks = [Samples(0, 2, k, k * 1000, words) for k in range(0, 4000, 20)]
        self._put(wire(blocks, start=len(BOARD.description())))


class Bench:
    def __init__(self, folder: Path) -> None:
        self.calibrations = CalibrationFiles(folder)
        self.calibrations_turn = asyncio.Lock()

    def utc_s(self) -> float:
        return 1_795_615_000.0

    def __iter__(self) -> Iterator[Rig]:
        return iter(())

    async def look_at_calibrations(self) -> None:
        self.calibrations.look_again()

    def calibrated(self, serial: str) -> None:
        pass


WISH = Wish(What.ZERO, 1)


def measured(calibrating: Calibrating) -> Rig:
    board = Board()
    rig = cast(Rig, board)
    calibrating.look(rig, WISH)
    board.sample()
    calibrating.measure(rig, WISH)
    return rig


def test_a_rig_that_is_gone_is_not_held(tmp_path: Path) -> None:
    calibrating = Calibrating(cast(Rigs, Bench(tmp_path)))
    gone = weakref.ref(measured(calibrating))
    gc.collect()
    assert gone() is None


async def test_what_changes_while_keeping_waits_for_another_is_seen(tmp_path: Path) -> None:
    bench = Bench(tmp_path)
    calibrating = Calibrating(cast(Rigs, bench))
    rig = measured(calibrating)
    async with bench.calibrations_turn:
        keeping = asyncio.create_task(calibrating.keep(rig))
        await asyncio.sleep(0)
        assert isinstance(rig.pipeline, Pipeline)
        rig.pipeline.calibrate(gained(1.02), 1_795_615_000.0)
    with pytest.raises(UnfitError, match="measure again"):
        await keeping
    assert not list(tmp_path.iterdir())
