"""Open recordings of real motors, through player, wire and pipeline, against figures computed independently.

The figures are those of the recordings' own index, printed with four digits and computed with plain numpy from the
arrays as they are. What the wire adds is the quantiser: one code of a range of +-200 V is 6 mV, of +-1 A 31 uA.
"""

import math
from functools import lru_cache
from pathlib import Path
from statistics import median
from typing import Any

import numpy as np
import pytest
import yaml

from server.config import RigSettings
from server.pipeline import Output, Pipeline
from server.readings import Confidence, Reading
from tests.simulator.recordings import CYCLE_REPEATED_S, NAMES, wire_bytes

PRINTED = 6e-4  # half a unit in the fourth digit, of a figure that begins with 1, and the quantiser
PLAID = tuple(name for name in NAMES if name.startswith("plaid") and not name.endswith("start"))
ITSC = tuple(name for name in NAMES if name.startswith("itsc"))
OURS = {
    "voltage_rms_v": "voltage_rms_v",
    "current_rms_a": "current_rms_a",
    "active_power_w": "active_power_w",
    "power_factor": "power_factor",
    "phase_angle_deg": "phase_angle_fundamental_deg_lag_positive",
    "displacement_power_factor": "displacement_power_factor",
    "current_thd_percent": "current_thd_percent_to_40",
    "voltage_thd_percent": "voltage_thd_percent_to_40",
}


@lru_cache
def index(folder: Path) -> dict[str, Any]:
    entries = yaml.safe_load((folder / "index.yaml").read_text())["recordings"]
    return {Path(entry["file"]).stem: entry for entry in entries}


@lru_cache
def played(folder: Path, name: str) -> Output:
    return Pipeline(RigSettings("bench")).push(wire_bytes(folder, name), 0.0)


def last_windows(output: Output) -> list[dict[str, Reading]]:
    """The last whole window of each repeated cycle."""
    per_cycle: dict[int, dict[str, Reading]] = {}
    for instant in output.instants:
        readings = {reading.id: reading for reading in instant.readings}
        if "voltage_rms_v" in readings:
            per_cycle[math.ceil(instant.board_s / CYCLE_REPEATED_S - 0.01)] = readings
    return [per_cycle[cycle] for cycle in sorted(per_cycle)]


def number(reading: Reading) -> float:
    assert isinstance(reading.value, float), reading
    return reading.value


@pytest.mark.parametrize("name", PLAID)
def test_single_mains_cycles_have_the_figures_of_their_index(recordings: Path, name: str) -> None:
    reference = index(recordings)[name]["reference_run_cycles_median_min_max"]
    cycles = last_windows(played(recordings, name))
    assert len(cycles) == int(index(recordings)[name]["run_cycles_used_for_reference"].split()[0])
    for ours, theirs in OURS.items():
        values = [number(cycle[ours]) for cycle in cycles]
        expected = reference[theirs]
        found = [median(values), min(values), max(values)]
        absolute = 0.02 if ours.endswith(("deg", "percent")) else 0.0
        assert found == pytest.approx(expected, rel=PRINTED, abs=absolute), ours


def test_the_clipped_start_of_the_vacuum_cleaner_is_at_least_what_is_shown(recordings: Path) -> None:
    cycles = last_windows(played(recordings, "plaid-vacuum-cycles-1 start"))
    clipped = [cycle for cycle in cycles if "clipped" in cycle["current_rms_a"].reason]
    assert len(clipped) == 4  # four of the six start cycles stop flat, as the index says
    for cycle in clipped:
        assert cycle["current_rms_a"].confidence is Confidence.DOUBTFUL
        assert cycle["current_thd_percent"].confidence is Confidence.ABSENT
        assert cycle["current_peak_a"].confidence is Confidence.ABSENT
        assert cycle["voltage_rms_v"].confidence is Confidence.GOOD
    assert min(number(cycle["current_rms_a"]) for cycle in cycles) > 16.4


def test_a_clamp_that_passes_no_direct_current_gives_no_mean(recordings: Path) -> None:
    for cycle in last_windows(played(recordings, "plaid-half-wave-heater-cycles")):
        assert cycle["current_mean_a"].confidence is not Confidence.GOOD


@pytest.mark.parametrize("name", ITSC)
def test_three_phase_currents_have_frequency_and_sequence_of_their_index(recordings: Path, name: str) -> None:
    reference = index(recordings)[name]["reference"]
    windows = [
        {reading.id: reading for reading in instant.readings}
        for instant in played(recordings, name).instants
        if any(reading.key == "current_positive_sequence_a" for reading in instant.readings)
    ]
    assert len(windows) == 5  # a second of 200 ms windows

    def mean(key: str) -> float:
        return float(np.mean([number(window[key]) for window in windows]))

    # Two of the recordings change their currents within the second; their index says how much is beside one sine.
    steady = reference["residual_beside_fundamental_rms_a"] < 0.05
    share, ampere = (0.003, 0.01) if steady else (0.01, 0.02)
    rms = [mean("current_rms_a" if place == "L1" else f"current_rms_a.{place}") for place in ("L1", "L2", "L3")]
    assert rms == pytest.approx(reference["current_rms_a"], rel=share)
    # The reference is one fit over a second, ours the mean of five; the mains drifts between them.
    assert mean("current_frequency_hz") == pytest.approx(reference["frequency_hz"], abs=0.02 if steady else 0.05)
    assert mean("current_positive_sequence_a") == pytest.approx(reference["positive_sequence_a"], rel=share)
    assert mean("current_negative_sequence_a") == pytest.approx(reference["negative_sequence_a"], abs=ampere)
    assert mean("current_zero_sequence_a") == pytest.approx(reference["zero_sequence_a"], abs=ampere)
    for window in windows:
        harmonics = window["current_harmonics_a"].value
        assert isinstance(harmonics, tuple)
        assert all(np.isnan(harmonics[8:]))  # order 9 of 60 Hz lies above half of 1 kHz
        assert not any(np.isnan(harmonics[:8]))
        assert window["current_thd_percent"].confidence is not Confidence.GOOD
        assert "half the sample rate" in window["current_thd_percent"].reason


@pytest.mark.parametrize("name", [name for name in NAMES if name.startswith(("compressor", "servo", "dc-tacho"))])
def test_slow_and_uneven_channels_come_as_readings_at_their_own_times(recordings: Path, name: str) -> None:
    with np.load(recordings / f"{name}.npz") as archive:
        times = archive["time_s"]
        shapes = {key: archive[key].shape for key in archive.files}
    output = played(recordings, name)
    by_id: dict[str, list[tuple[float, float, float]]] = {}
    for instant in output.instants:
        for reading in instant.readings:
            if isinstance(reading.value, float | int) and reading.confidence is Confidence.GOOD:
                by_id.setdefault(reading.id, []).append((instant.board_s, float(reading.value), instant.interval_s))
    complete = {key: rows for key, rows in by_id.items() if len(rows) == len(times)}
    assert len(complete) >= sum(shape == times.shape for shape in shapes.values()) - 2  # without time and speed as read
    for rows in complete.values():
        board_s = np.array([row[0] for row in rows])
        assert np.max(np.abs(np.diff(board_s) - np.diff(times))) < 3e-6  # ticks of a microsecond
        assert rows[0][2] >= np.max(np.diff(times))  # stale is judged by the interval that was promised


def test_the_compressor_has_the_levels_and_starts_of_its_index(recordings: Path) -> None:
    reference = index(recordings)["compressor-night-1"]["reference"]
    values = np.array(
        [
            reading.value
            for instant in played(recordings, "compressor-night-1").instants
            for reading in instant.readings
            if reading.key == "current_rms_a"
        ],
        dtype=float,
    )
    assert len(values) == reference["rows"]
    running = values > 1.0
    assert np.count_nonzero(np.diff(running.astype(int)) == 1) == reference["starts"]
    assert np.mean(~running) == pytest.approx(reference["fraction_off"], abs=5e-5)
    assert np.mean(values > 5.0) == pytest.approx(reference["fraction_loaded"], abs=5e-6)
    assert values.max() == pytest.approx(reference["current_max_a"], abs=5e-4)
