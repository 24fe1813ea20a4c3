"""A night is logged at full length: memory stays flat, nothing that was lowest or highest is lost at any zoom, and the
run is opened within a second.

The readings are drawn by seed, with reasons that are never the same twice; one in the night is a spike of one window.
"""

import sys
import time
from collections.abc import Sequence
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from server.readings import Instant, Reading, doubtful
from server.runs.log.live import LiveLog
from server.runs.log.reading import LogReader, trends
from server.runs.log.taken import Said, Taken
from server.stream.clock import Clock
from tests.server.runs.log.logs import BEGIN, CLOSE, OPEN

FROM_UTC_S = 1_795_615_320.0
WINDOW_S, STEP_S = 0.2, 10.0
HOURS = 12.0
LOOKS = 12  # at the memory, and one at the end
IDS = tuple(f"reading_{k}" for k in range(60))
GROWS_MAX_MB = 4.0  # from the second look to the last
OPENED_MAX_S = 1.0
SPANS_S = (60.0, 900.0, 3600.0, 4 * 3600.0, 12 * 3600.0)


def logged(folder: Path, seed: int, hours: float) -> tuple[np.ndarray, list[float]]:
    """Log a night into a run's folder; all values, shape (instants, ids), and memory of the process in MB, 13 times."""
    draw, clock = np.random.default_rng(seed), Clock(1e6, low_s=FROM_UTC_S, high_s=FROM_UTC_S)
    count = round(hours * 3600 / WINDOW_S)
    values = draw.normal(5.0, 1.0, (count, len(IDS)))
    values[count // 3, 7] = 1000.0
    log, memory_mb = LiveLog("bench"), list[float]()
    folder.mkdir()
    log.opened(OPEN, folder)
    log.put(Taken(OPEN, ()))
    log.put(Taken(BEGIN, ()))
    for k, row in enumerate(values):
        readings = [Reading(name, value) for name, value in zip(IDS, row.tolist(), strict=True)]
        readings[0] = doubtful(readings[0], f"{k} is no more than a number")
        instant = Instant(k, k + 1, k * WINDOW_S, WINDOW_S, tuple(readings))
        log.put(Taken(None, (Said((instant,), (), (), None, clock),)))
        if k % round(STEP_S / WINDOW_S) == 0:
            log.step(k * WINDOW_S)
        if k % (count // LOOKS) == 0:
            memory_mb.append(resident_mb())
    log.put(Taken(CLOSE, ()))
    log.step(count * WINDOW_S)
    assert not log.logging.reason, log.logging
    return values, [*memory_mb, resident_mb()]


def resident_mb() -> float:
    """Memory that this process holds, as Linux tells it (proc(5), statm)."""
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * 4096 / 1e6


def lost(run: Path, values: np.ndarray, ids: Sequence[str] = IDS) -> list[str]:
    """Sentences about what trends tell otherwise than the values themselves, at several zooms round the spike."""
    found = []
    utc_s = FROM_UTC_S + WINDOW_S * np.arange(len(values))
    for span_s in SPANS_S:
        from_utc_s = max(FROM_UTC_S, FROM_UTC_S + WINDOW_S * (len(values) // 3) - span_s / 3)
        made = trends([run], ids, (from_utc_s, from_utc_s + span_s), 1200)
        number = (utc_s // made.grid.column_s).astype(int) - made.grid.first
        inside = (number >= 0) & (number < made.grid.columns)
        for name in ids:
            k = IDS.index(name)
            low, high = np.full(made.grid.columns, np.inf), np.full(made.grid.columns, -np.inf)
            np.minimum.at(low, number[inside], values[inside, k])
            np.maximum.at(high, number[inside], values[inside, k])
            band, there = made.bands[name], np.isfinite(low)
            same = np.array_equal(band.low[there], low[there].astype(np.float32))
            same &= np.array_equal(band.high[there], high[there].astype(np.float32))
            if not same or not np.isnan(band.low[~there]).all():
                found.append(f"{name}, {span_s:.0f} s: not as it was")
        if np.nanmax(made.bands[IDS[7]].high) != 1000.0:
            found.append(f"{span_s:.0f} s: the spike is not seen")
    return found


def main(state: Path, seed: int, hours: float = HOURS) -> int:
    """Print what was measured; 0 when all of it holds."""
    with TemporaryDirectory() as name:
        run = Path(name) / "20261125-1402-bench"
        begun_s = time.process_time()
        values, memory_mb = logged(run, seed, hours)
        cpu_ms = 1e3 * (time.process_time() - begun_s) / len(values)
        wrong = lost(run, values)
        begun_s = time.monotonic()
        with LogReader(run) as log:
            instants = log.span
        trends([run], IDS[:40], None, 1200)
        opened_s = time.monotonic() - begun_s
        size_mb = sum(path.stat().st_size for path in run.iterdir()) / 1e6
    grew_mb = memory_mb[-1] - memory_mb[1]
    print(f"{len(values)} instants of {len(IDS)} readings: {cpu_ms:.2f} ms of CPU each, {size_mb:.0f} MB, {instants}")
    print(f"memory, MB: {' '.join(f'{each:.0f}' for each in memory_mb)}; grew by {grew_mb:.1f}")
    print(f"opened and drawn within {1e3 * opened_s:.0f} ms")
    for sentence in wrong[:10]:
        print(sentence, file=sys.stderr)
    return 0 if not wrong and grew_mb <= GROWS_MAX_MB and opened_s <= OPENED_MAX_S else 1
