"""A calibration file that a person writes while the service runs holds for the board that is connected."""

from collections.abc import AsyncIterator
from pathlib import Path

import pytest

from server import rigs
from server.calibration.entry import BoardCalibration, What
from server.calibration.text import calibration_text
from server.rig import Rig
from server.rigs import Rigs
from tests.server.calibration.boards import entry
from tests.server.ingest.boards import IDENTITY, PtyBoard, channel
from tests.server.until import until


@pytest.fixture
async def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> AsyncIterator[Rigs]:
    monkeypatch.setattr(rigs, "READ_AGAIN_S", 0.05)
    made = Rigs(tmp_path)
    yield made
    await made.stop()


def text(value: float) -> str:
    return calibration_text(BoardCalibration(IDENTITY.serial, (entry(What.GAIN, channel(), value, 0.001),)))


def gain(rig: Rig) -> float | None:
    if rig.pipeline is None or 0 not in rig.pipeline.corrections:
        return None
    return rig.pipeline.corrections[0].gain


async def test_what_is_written_by_hand_holds_and_a_mistake_is_told_and_takes_nothing_away(
    bench: Rigs, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    board = PtyBoard()
    await bench.start({"one": board.url})
    (rig,) = bench
    await until(lambda: rig.description is not None)
    assert gain(rig) is None
    file = tmp_path / "calibration" / "T-1.toml"
    file.parent.mkdir()
    file.write_text(text(1.02))
    await until(lambda: gain(rig) == 1.02)
    file.write_text(text(1.03))
    await until(lambda: gain(rig) == 1.03)
    file.write_text(text(1.04).replace("1.04", '"1.04"'))
    await until(lambda: "A calibration file cannot be used" in caplog.text)
    assert f'{file}, line 16: value = "1.04": this is not a number; write a number without quotes' in caplog.text
    assert gain(rig) == 1.03
    file.write_text(text(1.05))
    await until(lambda: gain(rig) == 1.05)
    file.unlink()
    await until(lambda: gain(rig) is None)
    board.pull()
