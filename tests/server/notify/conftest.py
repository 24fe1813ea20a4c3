"""A delivery as a service has it, started and started anew on one folder."""

import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from server.notify.delivery import Delivery
from tests.server.notify.hooks import write
from tests.server.notify.notices import until


@pytest.fixture
def deliver(tmp_path: Path) -> Iterator[Callable[..., Delivery]]:
    """Starts a delivery with these settings; each is a service that was started anew on the same folder."""
    made: list[Delivery] = []

    def begin(settings: str | None, clock: Callable[[], float] = time.time, stop: bool = True) -> Delivery:
        for before in made if stop else []:
            before.stop()
        if settings is not None:
            write(tmp_path, settings)
        started = Delivery(tmp_path, clock)
        made.append(started)
        started.start()
        until(lambda: started.standings() or started.refusal or not (tmp_path / "notify.toml").exists())
        return started

    yield begin
    for each in made:
        each.stop()
