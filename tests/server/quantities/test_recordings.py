"""Readings of open recordings against the figures published beside them, without the wire in between.

The recordings stand in the folder named by SLIPRING_DATA, or in ../shared/data beside the checkout.
"""

import os
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import yaml

from server.motors import THREE_PHASE_INDUCTION
from tests.server.quantities.windows import current, number, read, voltage, window

DATA = Path(os.environ.get("SLIPRING_DATA") or Path(__file__).parents[4] / "shared" / "data")
INDEX = DATA / "index.yaml"
pytestmark = pytest.mark.skipif(not INDEX.is_file(), reason=f"the open recordings are not at {DATA}")


def entries(group: str) -> list[dict[str, Any]]:
    if not INDEX.is_file():
        return []
    loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)  # the C one is ten times as fast, and not everywhere
    listed = yaml.load(INDEX.read_text(encoding="utf-8"), Loader=loader)["recordings"]  # a safe loader either way
    return [entry for entry in listed if entry.get("group") == group and "arrays" in entry]


# PLAID, single cycles of appliances at 60 Hz (Medico et al. 2020, doi 10.1038/s41597-020-0389-7): each cycle repeated
# for a window of 200 ms, and the median over the clean running cycles as the index gives it.
@pytest.mark.parametrize("entry", entries("plaid"), ids=lambda entry: str(entry["file"]))
def test_single_phase_appliances(entry: dict[str, Any]) -> None:
    published = entry["reference_run_cycles_median_min_max"]
    with np.load(DATA / entry["file"]) as kept:
        clean = kept["clean_run"]
        cycles = list(zip(kept["voltage_v"][clean], kept["current_a"][clean], strict=True))
    found = [
        read(window([voltage(), current(limit_a=100)], [np.tile(u, 12), np.tile(i, 12)], 30_000.0)) for u, i in cycles
    ]

    def median(key: str) -> float:
        return float(np.median([number(each, key) for each in found]))

    for key in ("voltage_rms_v", "current_rms_a", "active_power_w", "apparent_power_va"):
        assert median(key) == pytest.approx(published[key][0], rel=6e-4), key
    assert median("power_factor") == pytest.approx(published["power_factor"][0], abs=2e-4)
    assert median("displacement_power_factor") == pytest.approx(published["displacement_power_factor"][0], abs=2e-4)
    assert median("current_thd_percent") == pytest.approx(published["current_thd_percent_to_40"][0], abs=0.02, rel=2e-3)
    assert median("voltage_thd_percent") == pytest.approx(published["voltage_thd_percent_to_40"][0], abs=0.005)
    angle = published["phase_angle_fundamental_deg_lag_positive"][0]
    assert median("phase_angle_deg") == pytest.approx(angle, abs=0.02)


# ITSC, three line currents of an unloaded motor at 1000 samples a second (Cardenas-Cornejo et al. 2023, doi
# 10.1016/j.measurement.2023.113680). The index fits one sine to a second; here five windows of 200 ms are averaged:
# where the current swells within the second (a40), they differ by half a percent, the small zero sequence by 15 mA.
@pytest.mark.parametrize("entry", entries("itsc"), ids=lambda entry: str(entry["file"]))
def test_three_line_currents(entry: dict[str, Any]) -> None:
    published = entry["reference"]
    with np.load(DATA / entry["file"]) as kept:
        lines = np.ascontiguousarray(kept["current_a"].T)
    channels = [current(line) for line in ("L1", "L2", "L3")]
    windows = [lines[:, k : k + 200] for k in range(0, 1000, 200)]
    found = [read(window(channels, each, 1000.0), THREE_PHASE_INDUCTION) for each in windows]

    def mean(key: str) -> float:
        return float(np.mean([number(each, key) for each in found]))

    assert mean("current_frequency_hz") == pytest.approx(published["frequency_hz"], abs=0.03)
    for place, rms in zip(("", ".L2", ".L3"), published["current_rms_a"], strict=True):
        assert mean(f"current_rms_a{place}") == pytest.approx(rms, rel=0.005)
    assert mean("current_positive_sequence_a") == pytest.approx(published["positive_sequence_a"], rel=0.007)
    assert mean("current_negative_sequence_a") == pytest.approx(published["negative_sequence_a"], rel=0.05, abs=0.01)
    assert mean("current_zero_sequence_a") == pytest.approx(published["zero_sequence_a"], abs=0.02)
    assert {each["current_phase_order"].value for each in found} == {"L1 L2 L3"}
    assert all("500 Hz" in each["current_harmonics_a"].reason for each in found)
