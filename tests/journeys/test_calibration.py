"""A board that is off by a known gain and delay is put right from the command line and on the page."""

import json
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from playwright.sync_api import Browser, Page, expect

from tests.journeys.bench import ROOT, Service, board, service, wait_for
from tests.journeys.page import opened

GAIN, OFFSET_A, LAG_S = 1.02, 0.012, 60e-6
DESCRIPTION = """
name = "bench board"
serial = "PL-0007"

[[channel]]
data = "volts"
name = "U"
role = "voltage"
place = "supply"
unit = "V"
low = -400.0
high = 400.0
rate_hz = 5000
noise_rms = 0.05
gain_limit = 0.01
offset_limit = 0.5
delay_limit_s = 1e-6

[[channel]]
data = "amps"
name = "I"
role = "current"
place = "line"
unit = "A"
low = -10.0
high = 10.0
rate_hz = 5000
noise_rms = 0.002
gain_limit = 0.03
offset_limit = 0.05
delay_limit_s = 1e-4

[[channel]]
data = "idle"
name = "I idle"
role = "current"
place = "auxiliary"
unit = "A"
low = -10.0
high = 10.0
rate_hz = 5000
noise_rms = 0.002
gain_limit = 0.03
offset_limit = 0.05
delay_limit_s = 1e-4
"""


def wave(rms: float, lag_s: float = 0.0) -> np.ndarray:
    """Two seconds: whole cycles of 50 Hz, so that the recording can go round."""
    times = np.arange(10_000) / 5000.0 - lag_s
    return np.asarray(rms * np.sqrt(2.0) * np.cos(2.0 * np.pi * 50.0 * times))


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    """A heater of 230 V and 4 A, seen by a board whose current is off; another sensor hangs free."""
    folder = tmp_path_factory.mktemp("calibration")
    draw = np.random.default_rng(5)
    noise = draw.normal(0.0, 0.002, (2, 10_000))
    np.savez(
        folder / "heater.npz",
        volts=wave(230.0) + draw.normal(0.0, 0.05, 10_000),
        amps=GAIN * wave(4.0, LAG_S) + noise[0],
        idle=OFFSET_A + noise[1],
    )
    (folder / "heater.toml").write_text(DESCRIPTION)
    with (
        board(folder, "play", str(folder / "heater.npz"), "--loop") as (url, _),
        service(folder / "data", "--rig", f"bench={url}") as running,
    ):
        wait_for(lambda: running.get("/api/rigs/bench")["board"], "the description")
        yield running


def slipring(bench: Service, *arguments: str, answers: tuple[str, ...] = ()) -> subprocess.CompletedProcess[str]:
    options = ["--url", bench.url, "--data", str(bench.data)]
    return subprocess.run(
        [sys.executable, "-m", "server", "calibrate", *options, *arguments],
        cwd=ROOT,
        input="".join(f"{answer}\n" for answer in answers),
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )


def reading(bench: Service, key: str) -> tuple[float, float]:
    """A reading of half a second later, and its 95 % half width."""
    time.sleep(0.7)

    def told() -> dict[str, float] | None:
        its: dict[str, float] = bench.get("/api/rigs/bench/readings")["readings"][key]
        return its if "u95" in its else None  # a busy PC may leave a gap in the window

    its = wait_for(told, f"{key} with its interval")
    return its["value"], its["u95"]


@pytest.mark.long
def test_a_gain_is_calibrated_question_by_question_and_the_run_is_read_then_and_today(bench: Service) -> None:
    before, _ = reading(bench, "current_rms_a")
    assert before == pytest.approx(4.0 * GAIN, rel=1e-3)
    meter = ("4.000", "0.008", "limit", "bench meter 34, of March")
    done = slipring(bench, answers=("1", "gain", "yes", "", "", "", "", *meter, "yes"))
    assert done.returncode == 0, done.stderr
    assert "Slipring only watches" in done.stderr
    assert done.stderr.index("Cautions") < done.stderr.index("Calibrate the zero first.")
    assert "Kept: gain 0.98" in done.stderr
    after, u95 = reading(bench, "current_rms_a")
    assert abs(after - 4.0) < u95 < 0.02
    listed = slipring(bench, "--list")
    assert "gain   20" in listed.stdout
    assert "against bench meter 34, of March" in listed.stdout
    run = bench.data / "runs" / bench.get("/api/runs")[0]["name"]
    time.sleep(1.2)  # until the disk has it
    then, today = currents(run, "then"), currents(run, "today")
    assert then[0] == pytest.approx(4.0 * GAIN, rel=1e-3)
    assert then[-1] == pytest.approx(after, rel=1e-4)
    assert today[0] == pytest.approx(4.0, rel=1e-3)
    undone = slipring(bench, "--undo", "gain", "1")
    assert "against bench meter 34, of March was undone" in undone.stderr
    assert reading(bench, "current_rms_a")[0] == pytest.approx(4.0 * GAIN, rel=1e-3)


def currents(run: Path, which: str) -> list[float]:
    command = [sys.executable, "-m", "server", "read", str(run), "--calibration", which]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=60, check=True)
    told = [json.loads(line) for line in done.stdout.splitlines()]
    good = [line for line in told if "current_rms_a" not in line.get("doubtful", {})]
    return [line["current_rms_a"] for line in good if line.get("current_rms_a") is not None]


@pytest.mark.long
def test_an_angle_is_calibrated_on_the_page_and_undone(bench: Service, browser: Browser, shots: Path | None) -> None:
    phase_deg, _ = reading(bench, "phase_angle_deg")
    assert phase_deg == pytest.approx(360.0 * 50.0 * LAG_S, abs=0.02)
    with opened(browser, f"{bench.url}/#rig") as page:
        sheet = page.locator(".calibration")
        expect(sheet).to_contain_text("of board PL-0007")
        sheet.locator("summary").nth(1).click()
        sheet.get_by_role("button", name="Angle of I: calibrate").click()
        expect(sheet.get_by_role("heading", name="Angle of I")).to_be_focused()
        expect(sheet.locator(".cautions")).to_contain_text("It becomes hot enough to burn")
        shot(page, shots, "cautions")
        sheet.get_by_role("button", name="I have seen to all of it").click()
        expect(sheet.locator(".live")).to_contain_text("the current lags by 1.08")
        sheet.get_by_label("The load is").select_option("film")
        sheet.get_by_label("For the record").fill("57 ohm")
        shot(page, shots, "live")
        sheet.get_by_role("button", name="Take this as a resistor's angle").click()
        expect(sheet.locator(".fields")).to_contain_text("after, the current leads by")
        shot(page, shots, "result")
        sheet.get_by_role("button", name="Keep it").click()
        expect(sheet.get_by_role("status")).to_contain_text(
            "Kept: the angle of I, against a film or carbon resistor, 57 ohm."
        )
        phase_deg, u95 = reading(bench, "phase_angle_deg")
        assert abs(phase_deg) < u95 + 0.004
        shot(page, shots, "kept")
        sheet.get_by_role("button", name="Undo the angle of I").click()
        expect(sheet.get_by_role("status")).to_contain_text("was undone; the one before it holds")
    assert reading(bench, "phase_angle_deg")[0] == pytest.approx(360.0 * 50.0 * LAG_S, abs=0.02)


def shot(page: Page, shots: Path | None, name: str) -> None:
    """Both sizes and themes, where pictures are wanted."""
    if shots is None:
        return
    for width, height in ((1440, 900), (390, 844)):
        for theme in ("light", "dark"):
            page.set_viewport_size({"width": width, "height": height})
            page.evaluate("theme => { document.documentElement.dataset.theme = theme; }", theme)
            page.locator(".calibration").scroll_into_view_if_needed()
            page.screenshot(path=shots / f"calibration-{name}-{width}-{theme}.png", full_page=True)
    page.set_viewport_size({"width": 1440, "height": 900})
