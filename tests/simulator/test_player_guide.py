"""PLAYER.md is true: its examples run, and it names every key that is understood."""

import re
from pathlib import Path

import numpy as np

import simulator
from firmware_protocol import Samples
from simulator import recordings
from simulator.player import player_board
from simulator.recordings import read_recording
from tests.simulator.fakes import messages

GUIDE = (Path(simulator.__file__).parent / "PLAYER.md").read_text(encoding="utf-8")


def _example(language: str) -> str:
    found = re.findall(rf"```{language}\n(.*?)```", GUIDE, re.DOTALL)
    assert len(found) == 1
    return str(found[0])


def test_the_described_recording_plays(tmp_path: Path) -> None:
    path = tmp_path / "pump.npz"
    np.savez(
        path,
        voltage_v=np.zeros(2000),
        counts=np.zeros((2000, 3)),
        oil_temperature_c=np.array([50.0, 51.0]),
        oil_time_s=np.array([0.0, 0.05]),
        edge_times_s=np.array([0.01, 0.02]),
        edge_states=np.array([1, 0]),
    )
    path.with_suffix(".toml").write_text(_example("toml"), encoding="utf-8")
    board = player_board(read_recording(path))
    sent = messages(board.step(1.0))
    assert board.ended
    assert sum(block.count for block in sent if isinstance(block, Samples)) == 2000


def test_the_recording_written_in_python_plays() -> None:
    names: dict[str, object] = {}
    exec(_example("python"), names)
    data = names["wire_bytes"]
    assert isinstance(data, bytes)
    assert sum(block.count for block in messages(data) if isinstance(block, Samples)) == 20_000


def test_every_key_that_is_understood_is_named() -> None:
    known = {*recordings._TOP, *recordings._CHANNEL, *recordings._INPUT, *recordings._EDGES, *recordings._MOTOR}
    text = (
        GUIDE.replace("[[", "`").replace("]]", "`").replace("`[", "`").replace("]`", "`").replace("[edges]", "`edges`")
    )
    assert {key for key in known if f"`{key}`" not in text} == set()
