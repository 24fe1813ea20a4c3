"""Goal night: 40 readings of twelve hours on the Night screen, from asking for them to their paint, in a browser."""

import json
import tempfile
import time
from pathlib import Path

import numpy as np
from playwright.sync_api import Browser

from tests.benchmarks.in_browser import in_browser
from tests.benchmarks.pairs import Row
from tests.journeys.bench import service
from tests.journeys.made_night import OTHERS, RIG, made_night
from tests.journeys.page import opened

ASKED_MS = 300.0
DRAWN = 40
ASK = 40
# From the press to the frame behind the one in which all lines are there.
_ASK = """([hash, wanted]) => new Promise(done => {
  const begun = performance.now();
  location.hash = hash;
  const look = () => {
    const drawn = document.querySelector('.nightplot')?.dataset.drawn;
    if (drawn === wanted) requestAnimationFrame(() => done(performance.now() - begun));
    else requestAnimationFrame(look);
  };
  requestAnimationFrame(look);
})"""


def measure(pairs: int) -> list[Row]:
    """As `measure_in`, with a browser of its own; no row where this PC has none."""
    return in_browser(lambda browser, _: measure_in(browser, ASK, 2.0), pairs)


def measure_in(browser: Browser, times: int, step_s: float) -> list[Row]:
    """95th percentile over as many askings, in parts of what may be; a night with an instant every `step_s`."""
    with tempfile.TemporaryDirectory() as folder:
        data = Path(folder) / "data"
        night = made_night(data, "heron-2", time.time() - 60.0, step_s)
        with service(data) as running:
            running.send("POST", "/api/rigs", RIG)
            with opened(browser, f"{running.url}/?rig=heron-2#watch") as page:
                choice = json.dumps({"heron-2": {"added": OTHERS, "dropped": []}})
                page.evaluate(f"localStorage.setItem('slipring-night', {json.dumps(choice)})")
                page.wait_for_selector(".far .state")
                took_ms = []
                for _ in range(times + 1):  # the first compiles
                    took_ms.append(page.evaluate(_ASK, [f"night/{night.run}", str(DRAWN)]))
                    page.evaluate("location.hash = 'watch'")
                    page.wait_for_selector(".nightplot", state="detached")
    p50, p95 = np.percentile(took_ms[1:], (50, 95))
    note = f"p50 {p50:.0f} ms, p95 {p95:.0f} ms, of {ASKED_MS:.0f} ms; the first {took_ms[0]:.0f} ms"
    return [Row("night", f"{DRAWN} readings of a night drawn on the Night screen, p95", p95 / ASKED_MS, 1.0, note)]
