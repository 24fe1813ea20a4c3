"""Goal 5c: trends of a night from the log of its run, against lowest and highest of the same readings in memory.

40 of 60 readings, five times a second for 12 hours, 1200 columns. The log does more: means, and how much is trusted.
"""

import asyncio
import time
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from server.readings import Instant, Reading
from server.recorded import Recorded
from server.runs.layout import Entry, Kind
from server.runs.library import Library
from server.runs.log.reading import trends
from server.runs.log.scribe import Scribe
from server.runs.log.store import LOG, Store
from server.runs.log.taken import Said, Taken
from server.stream.clock import Clock
from tests.benchmarks.pairs import Row, cpu_ratio
from tests.server.runs.recordings import recorded_run
from tests.server.web.bench import BenchRig, running
from tests.server.web.raw import TOKEN

FROM_UTC_S = 1_795_615_320.0
NIGHT_S = 12 * 3600.0
WINDOW_S = 0.2
IDS = tuple(f"reading_{k}" for k in range(60))
ASKED, COLUMNS = IDS[:40], 1200
ASKED_MS = 300.0
ASK = 100


def logged_night(path: Path, step_s: float) -> None:
    """A log as the service writes it, with an instant every `step_s`."""
    draw, clock = np.random.default_rng(1), Clock(1e6, low_s=FROM_UTC_S, high_s=FROM_UTC_S)
    store = Store(path)
    scribe = Scribe(store)
    for k in range(round(NIGHT_S / step_s)):
        values = draw.normal(5.0, 1.0, len(IDS)).tolist()
        readings = tuple(map(Reading, IDS, values))
        instant = Instant(k, k + 1, step_s * k, step_s, readings)
        scribe.take(Taken(None, (Said((instant,), (), (), None, clock),)))
        if k % 100 == 0:
            scribe.write()
    closing = Entry(Kind.CLOSE, FROM_UTC_S + NIGHT_S, b"ended by a person")
    scribe.take(Taken(closing, ()))
    scribe.end()
    store.close()


def measure(pairs: int) -> list[Row]:
    """Two rows: CPU of the picture, and how long a person waits for it. Fewer instants for few pairs: what is read for
    the picture is as much."""
    with TemporaryDirectory() as name:
        library = Library(Path(name))
        run = library.folder / recorded_run(library, "heron-1", story=((1.0, 0.0, 0.0, 0.0),))
        (run / LOG).unlink()
        logged_night(run / LOG, WINDOW_S if pairs > 1 else 320 * WINDOW_S)
        rows = [_picture(run, pairs), _asked(library, run.name, ASK if pairs > 1 else 3)]
        library.close()
    return rows


def _picture(run: Path, pairs: int) -> Row:
    span = FROM_UTC_S, FROM_UTC_S + NIGHT_S
    samples = round(NIGHT_S / WINDOW_S)
    columns = np.random.default_rng(2).standard_normal((len(ASKED), samples), dtype=np.float32)
    edges = np.arange(COLUMNS) * samples // COLUMNS

    def bare() -> None:
        np.minimum.reduceat(columns, edges, axis=1)
        np.maximum.reduceat(columns, edges, axis=1)

    ratio = cpu_ratio(lambda: trends([run], ASKED, span, COLUMNS), bare, pairs)
    what = f"picture of a night, {len(ASKED)} readings x {COLUMNS} columns"
    return Row("5c", what, ratio, 1.0, "min and max over float32 columns in memory")


def _asked(library: Library, name: str, times: int) -> Row:
    """Milliseconds until the whole answer has come, 95th percentile over as many askings, in parts of what may be."""
    took_ms = []
    with TemporaryDirectory() as static, running(Path(static), "heron-1") as service:
        service.rigs.rigs = {"heron-1": BenchRig("heron-1")}
        service.rigs.recorded = Recorded(library, time.time)
        query = "&".join(f"ids={each}" for each in ASKED)
        path = f"/api/runs/{name}/trends?from={FROM_UTC_S}&to={FROM_UTC_S + NIGHT_S}&columns={COLUMNS}&{query}"
        with service.client as client:
            for _ in range(times):
                begun_s = time.monotonic()
                answer = client.get(path, headers={"Authorization": f"Bearer {TOKEN}"})
                took_ms.append(1e3 * (time.monotonic() - begun_s))
                assert answer.status_code == 200
        asyncio.run_coroutine_threadsafe(service.rigs.recorded.stop(), service.server_loop).result(5)
        service.rigs.recorded = None
    p50, p95 = np.percentile(took_ms, (50, 95))
    note = f"p50 {p50:.0f} ms, p95 {p95:.0f} ms, of {ASKED_MS:.0f} ms"
    return Row("night", f"{len(ASKED)} readings of a night asked for over HTTP, p95", p95 / ASKED_MS, 1.0, note)
