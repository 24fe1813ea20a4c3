"""Notices as the alarms would tell them, and a wait for what a thread does."""

import time
from collections.abc import Callable
from dataclasses import replace

from server.alarms.notice import Notice, Rank, Told
from server.notify.worker import Worker

WHY = "The current is above its limit for 5 s."


def notice(id: str = "bench-7", **changed: object) -> Notice:
    """An alarm that was raised."""
    its = Notice(7, id, "bench", Told.RAISED, Rank.ALARM, 1_795_600_000.0, "Switch off", WHY, "current_rms_a")
    return replace(its, value="1.31 A", limit="0.60 A", **changed)  # type: ignore[arg-type]


def older(worker: Worker, by_s: float) -> None:
    """The last sign of life of a receiver, which it has noted by then, came so much earlier."""
    until(lambda: time.monotonic() - worker._alive_s < by_s)
    worker._alive_s -= by_s


def until(happened: Callable[[], object], within_s: float = 8.0) -> None:
    start_s = time.monotonic()
    while not happened():
        assert time.monotonic() - start_s < within_s, "it did not happen in time"
        time.sleep(0.005)
