"""Rigs on real ptys, for the tests of rigs."""

from collections.abc import AsyncIterator, Callable, Iterator
from pathlib import Path

import pytest

from server.config import ConfigError, RigSettings, RigText
from server.ingest.steady_clock import SteadyClock
from server.rig import Rig
from server.runs.library import Library
from tests.server.ingest.boards import PtyBoard


@pytest.fixture
def board() -> Iterator[PtyBoard]:
    made = PtyBoard()
    yield made
    made.pull()


@pytest.fixture
async def make_rig(tmp_path: Path) -> AsyncIterator[Callable[..., Rig]]:
    made: list[Rig] = []

    def make(settings: RigSettings, refused: ConfigError | None = None) -> Rig:
        made.append(Rig(RigText("", settings, {}), SteadyClock().utc_s, Library(tmp_path / "runs"), refused=refused))
        return made[-1]

    yield make
    for rig in made:
        await rig.stop()
