"""What a port told: chunks, reports, and waiting for them."""

import time
from collections.abc import Callable

from server.ingest.port import Port
from server.ingest.report import PortReport
from server.ingest.steady_clock import SteadyClock

SOON_S = 3.0


class Heard:
    """A port with everything that it said and handed over."""

    def __init__(self, url: str, baud: int = 2_000_000) -> None:
        self.reports: list[PortReport] = []
        self.chunks: list[tuple[bytes, float]] = []
        self.clock = SteadyClock()
        self.port = Port(url, baud, self.clock.utc_s, lambda *chunk: self.chunks.append(chunk), self.reports.append)
        self.port.start()

    @property
    def data(self) -> bytes:
        return b"".join(chunk for chunk, _ in self.chunks)

    @property
    def states(self) -> list[str]:
        return [report.state for report in self.reports]

    def until(self, happened: Callable[[], bool], within_s: float = SOON_S) -> float:
        """Seconds until it was so; fails if it was not in time."""
        start_s = time.monotonic()
        while not happened():
            assert time.monotonic() - start_s < within_s, (self.reports, self.data[:200])
            time.sleep(0.005)
        return time.monotonic() - start_s
