"""Traps of the open recordings of real motors, through player, wire and pipeline to the words that are told.

What else the recordings show is held against their index in test_recordings.py; connections in tests/server/connection.
"""

from dataclasses import replace
from math import pi
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from firmware_protocol import Role
from server.calibration.angle import LOADS, find_angle
from server.calibration.stretch import Stretch
from server.config import RigSettings
from server.live.ageing import Age, aged
from server.pipeline import Output, Pipeline
from server.readings import Confidence, Reading
from simulator.player import player_board
from simulator.recording import RecordedChannel, Recording
from tests.server.quantities.windows import number
from tests.simulator.recordings import recording

UNIVERSAL = '[motor]\nname = "cleaner"\ntype = "universal"\n[motor.plate]\nvoltage_v = 118.0\nfrequency_hz = 60.0\n'
THREE = '[motor]\nname = "m"\ntype = "three_phase_induction"\n[motor.plate]\ncurrent_a = 3.0\nfrequency_hz = 60.0\n'
CLAMP_S = 0.5 * pi / 180 / (2 * pi * 60)  # a delay of half a degree at 60 Hz


def output_of(played: Recording) -> Output:
    board, pieces = player_board(played), list[bytes]()
    while not board.ended:
        pieces.append(board.step(10.0))
    return Pipeline(RigSettings("bench")).push(b"".join(pieces), 0.0)


def windows(output: Output, key: str) -> list[dict[str, Reading]]:
    """Of each window that has a reading of this id, all of them."""
    every = [{each.id: each for each in instant.readings} for instant in output.instants]
    return [each for each in every if key in each]


def changed(played: Recording, channel: int, **said: Any) -> Recording:
    channels = list(played.channels)
    channels[channel] = replace(channels[channel], **said)
    return replace(played, channels=channels)


def test_a_clamp_turns_the_angle_and_nothing_is_claimed_of_it_until_it_is_calibrated(recordings: Path) -> None:
    kettle = recording(recordings, "plaid-kettle-cycles")
    kettle = replace(
        kettle, channels=[replace(each, values=np.tile(each.values[:30_000], 4)) for each in kettle.channels]
    )
    output = output_of(kettle)
    last = windows(output, "phase_angle_deg")[-1]
    # A resistor that leads by 5 degrees: the index has -4.84 to -4.96.
    assert number(last, "phase_angle_deg") == pytest.approx(-4.9, abs=0.1)
    assert last["power_factor_sense"].value == "leading"
    for key in ("phase_angle_deg", "power_factor", "active_power_w"):
        assert last[key].uncertainty is None, key  # the board states no limits: no third digit of cos phi
    stretch = Stretch()
    for block in output.samples:
        stretch.take(block)
    voltage, current = stretch.channels
    found = find_angle(voltage, current, stretch, LOADS[0])
    assert found.before.value == pytest.approx(4.9, abs=0.1)
    # The fan's lag of 11.6 degrees is then 16.5; really about 19, as the clamp turns 0.4 A further than 4.6 A.
    fan = changed(recording(recordings, "plaid-fan-cycles"), 1, delay_s=found.change)
    angles = [number(each, "phase_angle_deg") for each in windows(output_of(fan), "phase_angle_deg")]
    assert np.median(angles) == pytest.approx(16.5, abs=0.4)
    assert {each["power_factor_sense"].value for each in windows(output_of(fan), "phase_angle_deg")} == {"lagging"}


def test_a_clamp_that_passes_no_direct_current_has_a_mean_only_where_it_is_not_said(recordings: Path) -> None:
    heater = recording(recordings, "plaid-half-wave-heater-cycles")
    told = windows(output_of(heater), "current_rms_a")[-1]
    assert told["current_mean_a"].reason == "the sensor is AC-coupled: a direct part is not in it"
    assert told["current_mean_a"].confidence is Confidence.ABSENT
    unsaid = windows(output_of(changed(heater, 1, ac_coupled=False)), "current_rms_a")[-1]
    # Half a wave of this size has 0.32 to 0.43 A; the clamp shows about half of it, and only its maker knows that.
    assert abs(number(unsaid, "current_mean_a")) < 0.27


def with_start(folder: Path, cycles: int) -> Recording:
    """The cleaner runs for a second, has the voltage of its start for some cycles, and runs again."""
    with np.load(folder / "plaid-vacuum-cycles-1.npz") as kept:
        clean, start = kept["clean_run"], kept["stage"] == "start"
        highest = int(
            np.abs(kept["current_a"][start]).max(axis=1).argmax()
        )  # four of the six reach the end of their range
        rows: list[NDArray[np.float64]] = []
        for key in ("voltage_v", "current_a"):
            run, first = kept[key][clean][0], kept[key][start][highest]
            rows.append(np.concatenate([np.tile(run, 60), np.tile(first, cycles), np.tile(run, 60)]))
    volts = RecordedChannel("U", Role.VOLTAGE, "V", -200, 200, rows[0], place="motor", rate_hz=30_000)
    amps = RecordedChannel("I", Role.CURRENT, "A", -27.85, 27.85, rows[1], place="motor", rate_hz=30_000)
    return Recording("cleaner", [volts, amps], plate=UNIVERSAL)


def test_a_supply_that_sags_is_an_event_with_its_depth_and_length_and_a_clipped_current_a_lower_bound(
    recordings: Path,
) -> None:
    output = output_of(with_start(recordings, 6))
    (dip,) = [each for each in output.events if each.kind == "voltage_dip"]
    assert dip.text.startswith("Voltage dipped to 10")
    # 0.1 s; off 50 Hz dips are looked for in means over 50 ms, so the ends of one that is hardly below 90 % are lost.
    assert 0.05 <= float(dip.text.split(" for ")[1].removesuffix(" s")) <= 0.15
    sagged = windows(output, "voltage_half_cycle_min_v")
    lowest = min(number(each, "voltage_half_cycle_min_v") for each in sagged if each["voltage_half_cycle_min_v"].value)
    assert 102.0 <= lowest <= 106.0  # as the index says
    clipped = [each["current_rms_a"].reason for each in sagged if "clipped" in each["current_rms_a"].reason]
    assert clipped
    assert all(reason.startswith("at least this much: clipped at ±27.85 A") for reason in clipped)


def test_a_cycle_that_the_switch_cut_gives_no_distortion_that_is_called_good(recordings: Path) -> None:
    with np.load(recordings / "plaid-vacuum-cycles-1.npz") as kept:
        run = [row[kept["clean_run"]][0] for row in (kept["voltage_v"], kept["current_a"])]
        cut_row = int(np.flatnonzero((kept["stage"] == "run") & ~kept["clean_run"])[0])
        cut = [kept[key][cut_row] for key in ("voltage_v", "current_a")]
    volts = np.tile(run[0], 90)
    amps = np.concatenate([np.tile(run[1], 64), cut[1], np.zeros(25 * 500)])
    channels = [
        RecordedChannel("U", Role.VOLTAGE, "V", -200, 200, volts, place="motor", rate_hz=30_000),
        RecordedChannel("I", Role.CURRENT, "A", -30, 30, amps, place="motor", rate_hz=30_000),
    ]
    every = windows(output_of(Recording("cleaner", channels, plate=UNIVERSAL)), "current_thd_percent")
    thds = [each["current_thd_percent"] for each in every]
    good = [float(str(each.value)) for each in thds if each.confidence is Confidence.GOOD]
    assert len(good) >= 4
    assert max(good) < 15.0  # 14.2 to 14.5 % by the index
    torn = [each.reason for each in thds if each.reason]
    assert any("changed within the window" in reason or "switched within the window" in reason for reason in torn)


@pytest.mark.parametrize(
    ("name", "low", "high"), [("itsc-hlt-1", 0.0, 5.0), ("itsc-hlt-3", 0.0, 5.0), ("itsc-a40-1", 15.0, 40.0)]
)
def test_transformers_that_disagree_leave_an_unbalance_whose_interval_says_so(
    recordings: Path, name: str, low: float, high: float
) -> None:
    played = replace(recording(recordings, name), plate=THREE)
    stated = {"gain_limit": 0.05, "offset_limit": 0.01, "delay_limit_s": 4 * CLAMP_S, "noise_rms": 0.01}
    for channel in range(3):
        played = changed(played, channel, **stated)
    for each in windows(output_of(played), "current_unbalance_percent"):
        sure = each["current_unbalance_percent"].uncertainty
        assert sure is not None
        assert low <= number(each, "current_unbalance_percent") <= high
        assert (sure.low < 1.0) is (high == 5.0)  # a healthy motor may be balanced, that one not
        assert each["current_phase_order"].confidence is Confidence.GOOD


def bridge(folder: Path, name: str, evenly: bool) -> Recording:
    """Of 10 bits about 511.5: two phase currents and bus voltage; by the time stamps, or as if evenly sampled."""
    with np.load(folder / f"{name}.npz") as kept:
        counts, times = kept["adc_counts"].astype(float), kept["time_s"]
    keep = np.concatenate([[True], np.diff(times) > 0])  # two samples of one moment are one
    counts, times = counts[keep], times[keep]
    taken = (("I U", Role.CURRENT, "A", 0, 0.0489, "U"), ("I V", Role.CURRENT, "A", 1, 0.0489, "V"))
    channels = [
        RecordedChannel(
            *(label, role, unit, -511.5 * scale, 511.5 * scale, (counts[:, column] - 511.5) * scale),
            place=place,
            noise_rms=1.3 * scale,
            offset_limit=5.0 * scale,
            **({"rate_hz": 10} if evenly else {"times_s": times, "interval_max_s": 0.2}),
        )
        for label, role, unit, column, scale, place in (*taken, ("U bus", Role.VOLTAGE, "V", 2, 0.1, "dc link"))
    ]
    return Recording(name, channels, plate='[motor]\nname = "m"\ntype = "brushless"\n')


def test_phase_currents_of_ten_samples_a_second_have_an_rms_that_is_not_trusted(recordings: Path) -> None:
    every = windows(output_of(bridge(recordings, "pmsm-bridge-3-low-open", evenly=True)), "current_rms_a")
    assert len(every) > 10
    for each in every:
        for key in ("current_rms_a", "current_mean_a.V", "current_peak_a"):
            assert each[key].confidence is Confidence.DOUBTFUL, key
            assert each[key].reason == "10 samples a second: what is faster than 5 Hz is taken for something slower"
        assert not [key for key in each if "harmonic" in key or "frequency" in key]
        # Bus and driver voltage sit in the middle of their range: below what their channel can tell from nothing.
        assert each["voltage_rms_v"].least is not None


def test_a_gap_of_four_seconds_between_time_stamps_makes_the_last_reading_old(recordings: Path) -> None:
    output = output_of(bridge(recordings, "pmsm-bridge-1-hot", evenly=False))
    times = [instant.board_s for instant in output.instants if instant.readings[0].key == "voltage_v"]
    gaps = np.diff(times)
    assert gaps.max() == pytest.approx(3.921, abs=1e-3)
    before = next(each for each in output.instants if each.board_s == times[int(gaps.argmax())])
    shown, how = aged(before.readings[0], float(gaps.max()), before.interval_s)
    assert (how, shown.confidence, shown.reason) == (Age.STALE, Confidence.DOUBTFUL, "no samples for 3.9 s")
    assert not [each for instant in output.instants for each in instant.readings if "rms" in each.key]
