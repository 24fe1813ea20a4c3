"""Goal 6: what a trace panel costs to paint, against the same envelope as one path on a bare canvas.

Both are drawn by dashboard/bench in the same Chromium, in turn; what counts is the CPU time of the processes that draw
(renderer and GPU process), for so many animation frames.
"""

import subprocess
import tempfile
from pathlib import Path
from statistics import median
from typing import Any

from playwright.sync_api import Browser, CDPSession, Page, Route

from dashboard.build_page import HERE, node_and_npm
from tests.benchmarks.in_browser import in_browser
from tests.benchmarks.pairs import Row

FRAMES = 240
PANEL_AT_MOST = 1.5
LONG_FRAME_MS = 50
_DRAWING = {"renderer", "GPU"}
_KINDS = {".html": "text/html", ".js": "text/javascript", ".css": "text/css", ".woff2": "font/woff2"}


def measure(pairs: int) -> list[Row]:
    """As `measure_in`, with a browser of its own; no row where this PC has none."""
    return in_browser(measure_in, pairs)


def measure_in(browser: Browser, pairs: int, frames: int = FRAMES) -> list[Row]:
    """CPU of the panel against the bare canvas, `pairs` of batches of `frames` animation frames each."""
    with tempfile.TemporaryDirectory() as folder:
        _build(Path(folder))
        page = browser.new_page(viewport={"width": 1440, "height": 900})
        try:
            page.route("http://bench.test/**", lambda route: _serve(route, Path(folder)))
            page.goto("http://bench.test/index.html")
            page.wait_for_function("window.bench !== undefined")
            return [_row(page, browser.new_browser_cdp_session(), pairs, frames)]
        finally:
            page.close()


def _row(page: Page, session: CDPSession, pairs: int, frames: int) -> Row:
    for name in ("panel", "bare"):  # compiling and fonts are not what is measured
        page.evaluate(f"bench.{name}(30)")
    panel_s, bare_s, long, shown_ms = [], [], 0, 0.0
    for _ in range(pairs):
        cost_s, took_ms = _run(page, session, "panel", frames)
        panel_s.append(cost_s)
        bare_s.append(_run(page, session, "bare", frames)[0])
        long += sum(ms > LONG_FRAME_MS for ms in took_ms)
        shown_ms += sum(took_ms)
    ratio = median(panel / bare for panel, bare in zip(panel_s, bare_s, strict=True))
    each_ms = 1000 * median(panel_s) / frames
    note = f"{each_ms:.1f} ms of CPU a frame; {long} frames over {LONG_FRAME_MS} ms in {shown_ms / 1000:.0f} s"
    return Row("6", "trace panel: CPU to paint, against one path on a bare canvas", ratio, PANEL_AT_MOST, note)


def _run(page: Page, session: CDPSession, name: str, frames: int) -> tuple[float, list[float]]:
    before_s = _cpu_s(session)
    took_ms: list[float] = page.evaluate(f"bench.{name}({frames})")
    return _cpu_s(session) - before_s, took_ms


def _cpu_s(session: CDPSession) -> float:
    processes: list[dict[str, Any]] = session.send("SystemInfo.getProcessInfo")["processInfo"]
    return float(sum(process["cpuTime"] for process in processes if process["type"] in _DRAWING))


def _build(folder: Path) -> None:
    node, _ = node_and_npm()
    command = [str(node), "node_modules/vite/bin/vite.js", "build", "bench", "--config", "vite.config.ts"]
    subprocess.run([*command, "--outDir", str(folder), "--logLevel", "error"], cwd=HERE, check=True)


def _serve(route: Route, folder: Path) -> None:
    name = route.request.url.removeprefix("http://bench.test/")
    path = folder / name
    if not path.is_file():
        route.fulfill(status=404, body="")
        return
    route.fulfill(body=path.read_bytes(), content_type=_KINDS.get(path.suffix, "application/octet-stream"))
