"""The picture follows a hand: from an edge of a Hall input being written to the port until the ring shows it.

The service as a person starts it and the page in a real browser; the moment is the animation frame in which the sector
is marked. Wall clock of one PC.
"""

import json
import tempfile
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from playwright.sync_api import Browser

from tests.benchmarks.in_browser import in_browser
from tests.benchmarks.latency import child, line_of
from tests.benchmarks.pairs import Row

BATCH_S = 8.0
WARM_S = 3.0  # not counted: the first pictures, and the first turn, before which no sector has its state
GOAL_MS = 100.0
SHOWN_WITHIN_S = 1.0  # an edge that the page never showed is as late as that
_WATCH = """() => {
  window.shown = [];
  let last = "";
  const look = () => {
    const here = document.querySelector(".sector.here");
    const state = here ? here.parentElement.querySelector("text.big").textContent : "";
    if (state !== last) { last = state; window.shown.push([Date.now() / 1000, Number(state)]); }
    requestAnimationFrame(look);
  };
  look();
}"""


def measure(pairs: int) -> list[Row]:
    """As `measure_in`, with a browser of its own; no row where this PC has none."""
    return in_browser(measure_in, pairs)


def measure_in(browser: Browser, pairs: int, batch_s: float = BATCH_S) -> list[Row]:
    """95th percentile of the lateness of edges against the goal, over `pairs` batches."""
    late_ms = 1e3 * np.concatenate([_batch(browser, WARM_S + batch_s) for _ in range(pairs)])
    p50, p95 = np.percentile(late_ms, [50, 95])
    note = f"{p95:.0f} ms; half of them within {p50:.0f} ms; {late_ms.size} edges"
    return [Row("11", "edge on the wire to the ring on the page, p95 against 100 ms", float(p95 / GOAL_MS), 1.0, note)]


def _batch(browser: Browser, seconds: float) -> NDArray[np.float64]:
    with tempfile.TemporaryDirectory() as data, child("tests.benchmarks.hall_board", str(seconds)) as board:
        pty = line_of(board, board.stdout)
        command = ("server", "serve", "--rig", f"hand={pty}", "--port", "0", "--data", str(Path(data) / "data"))
        with child(*command) as service:
            link = line_of(service, service.stderr).split()[3]
            page = browser.new_page(viewport={"width": 1440, "height": 900})
            try:
                page.goto(link)
                page.wait_for_url(lambda url: "/enter" not in url)
                page.goto(f"{link.partition('/enter')[0]}/?rig=hand#wiring")
                page.evaluate(_WATCH)
                written = json.loads(line_of(board, board.stdout))
                page.wait_for_timeout(1000 * SHOWN_WITHIN_S)
                shown = page.evaluate("window.shown")
            finally:
                page.close()
    return lateness(written, shown, written[0][0] + WARM_S)


def lateness(written: list[tuple[float, int]], shown: list[tuple[float, int]], from_s: float) -> NDArray[np.float64]:
    """By edge from `from_s` on: until its state was seen behind it; what was never seen is SHOWN_WITHIN_S late."""
    late = []
    for at_s, state in written:
        if at_s < from_s:
            continue
        seen = (when - at_s for when, which in shown if which == state and 0.0 <= when - at_s < SHOWN_WITHIN_S / 2)
        late.append(next(seen, SHOWN_WITHIN_S))
    return np.array(late)
