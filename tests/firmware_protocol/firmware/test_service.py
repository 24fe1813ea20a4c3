"""The whole way: waveforms and Hall edges into the firmware in the emulator, its line read by the real service."""

import time
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.firmware_protocol.firmware.bench import Fed
from tests.firmware_protocol.firmware.emulator import Emulator
from tests.firmware_protocol.firmware.window import CHANNELS
from tests.journeys.bench import Service, service, wait_for

pytestmark = pytest.mark.alone

RATE_HZ, SECONDS = 20_000, 4
POLE_PAIRS, SPEED_RPM = 7, 750
ELECTRICAL_HZ = POLE_PAIRS * SPEED_RPM / 60
VOLTS, AMPS = 0.0025, 0.002  # of a code, as the board describes it
STATES = (5, 1, 3, 2, 6, 4)  # in the order of sectors 1 to 6, turning forward


def thruster() -> Fed:
    """Sines of 12 V and 10 A on phases U V W about 18 V, 36 V and 8 A in the link, a rotor at constant speed."""
    seconds = np.arange(RATE_HZ * SECONDS) / RATE_HZ
    values = np.zeros((len(seconds), CHANNELS))
    for phase in range(3):
        sine = np.sin(2 * np.pi * (ELECTRICAL_HZ * seconds - phase / 3))
        values[:, 5 + phase], values[:, 2 + phase] = (18 + 12 * sine) / VOLTS, 10 * sine / AMPS
    values[:, 0], values[:, 1] = 36 / VOLTS, 8 / AMPS
    edges = np.arange(1, int(6 * ELECTRICAL_HZ * SECONDS))
    ticks = np.rint(edges * 1e6 / (6 * ELECTRICAL_HZ)).astype(np.int64)
    missed = np.zeros(len(seconds), np.bool_)
    missed[40_000:40_003] = True
    return Fed(np.rint(values).astype(np.int16), ticks, np.array(STATES, np.uint8)[edges % 6], missed)


def feed(emulator: Emulator, fed: Fed, seconds: float) -> None:
    """As fast as the board takes it, but no faster than time passes: the service shows a living board."""
    start_s, first, waits_max = time.monotonic(), emulator.window.fed, 1000
    end = min(first + round(seconds * RATE_HZ), len(fed.codes))
    while emulator.window.fed < end or emulator.window.waiting:
        due = min(end, first + int((time.monotonic() - start_s) * RATE_HZ))
        room = min(due - emulator.window.fed, waits_max - emulator.window.waiting)
        if room > 0:
            fed.give(emulator, emulator.window.fed + room)
        time.sleep(0.002)


def values(readings: dict[str, Any]) -> dict[str, Any]:
    return {key: reading["value"] for key, reading in readings.items() if reading["confidence"] == "good"}


@pytest.fixture(scope="module")
def seen(program: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """What the service had to say after two seconds, after three conversions were missed, and after a reset."""
    fed = thruster()
    said: dict[str, Any] = {}
    with (
        Emulator(program) as emulator,
        service(tmp_path_factory.mktemp("bench") / "data", "--rig", f"bench={emulator.url}") as running,
    ):
        emulator.go()
        wait_for(lambda: running.get("/api/rigs/bench")["connection"]["state"] == "live", "the board")
        feed(emulator, fed, 1.95)
        said["readings"] = values(running.get("/api/rigs/bench/readings")["readings"])
        said["undamaged"] = running.get("/api/rigs/bench")["damage"]
        feed(emulator, fed, 1.0)
        said["missed"] = running.get("/api/rigs/bench")["damage"]
        emulator.reset()
        feed(emulator, fed, 1.0)
        said["again"] = wait_for(lambda: board_after(running), "the new start")
        said["events"] = running.get("/api/rigs/bench/events")
    return said


def board_after(running: Service) -> Any:
    board = running.get("/api/rigs/bench")["board"]
    return board if board["boot"] == 2 else None


def test_levels_of_sines_are_right_to_a_count(seen: dict[str, Any]) -> None:
    """RMS of a sine: its amplitude / sqrt 2; with a mean beside it the root of the sum of squares."""
    readings = seen["readings"]
    for phase in "UVW":
        assert readings[f"current_rms_a.{phase}"] == pytest.approx(10 / np.sqrt(2), abs=AMPS)
        assert readings[f"voltage_rms_v.{phase}"] == pytest.approx(np.hypot(18, 12 / np.sqrt(2)), abs=VOLTS)
    assert readings["voltage_mean_v"] == pytest.approx(36.0, abs=VOLTS)
    assert readings["current_mean_a"] == pytest.approx(8.0, abs=AMPS)


def test_frequency_speed_and_order_of_the_hall_states_are_those_that_were_fed(seen: dict[str, Any]) -> None:
    readings = seen["readings"]
    assert readings["current_frequency_hz"] == pytest.approx(ELECTRICAL_HZ, rel=1e-6)
    assert readings["electrical_frequency_hz"] == pytest.approx(ELECTRICAL_HZ, rel=1e-4)  # stamps are in us
    assert readings["speed_rpm"] == pytest.approx(SPEED_RPM, rel=1e-4)
    assert readings["direction"] == "forward"
    order = " ".join(map(str, STATES))
    assert readings["state_order"] in f"{order} {order}"
    assert readings["current_phase_order"] == "U V W"


def test_missed_conversions_are_told_as_overruns_and_as_samples_that_did_not_come(seen: dict[str, Any]) -> None:
    assert {seen["undamaged"][key] for key in ("overruns", "samples_missing", "frames_lost", "checksum")} == {0}
    assert (seen["missed"]["overruns"], seen["missed"]["samples_missing"]) == (3, 3)
    assert seen["missed"]["dropped_blocks"] == 0


def test_a_reset_is_told_as_a_board_that_started_anew(seen: dict[str, Any]) -> None:
    assert [event["kind"] for event in seen["events"]] == ["board_reset", "gap"], seen["events"]
    assert seen["again"]["serial"] == "EM-0001"
