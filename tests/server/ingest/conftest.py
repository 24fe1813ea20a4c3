"""A port that is stopped when its test ends, and a board on a pty."""

from collections.abc import Callable, Iterator

import pytest

from tests.server.ingest.boards import PtyBoard
from tests.server.ingest.heard import Heard


@pytest.fixture
def open_port() -> Iterator[Callable[..., Heard]]:
    opened: list[Heard] = []

    def make(url: str, baud: int = 2_000_000) -> Heard:
        opened.append(Heard(url, baud))
        return opened[-1]

    yield make
    for heard in opened:
        heard.port.stop()


@pytest.fixture
def board() -> Iterator[PtyBoard]:
    made = PtyBoard()
    yield made
    made.pull()
