"""Windows in which the supply came or went are told apart from all others; these stay as they are."""

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from server import watched_state
from server.config import Plate, RigSettings
from server.motors import motor_type
from server.pipeline import Pipeline
from server.quantities import QUANTITIES
from server.quantities.switching import CHANGED, SWITCHED, marked, marked_changed, switched
from server.readings import Confidence, Doubt, Instant, Reading, doubtful
from server.run_state import rows_of, wanted_of
from tests.server.bench_stories import told, when
from tests.server.quantities.windows import current, voltage, window
from tests.server.tiny_board import TinyBoard

PLATE = Plate(voltage_v=230.0, frequency_hz=50.0, current_a=0.5)
T = np.arange(4000) / 20_000.0


def asked(volts: NDArray[np.float64], amps: NDArray[np.float64], plate: Plate = PLATE, direct: bool = False) -> bool:
    """Of a window with these samples and noise on them."""
    draw, kind = np.random.default_rng(3), motor_type("brushless" if direct else "permanent_split_capacitor")
    noisy = [wave + draw.normal(0.0, 1e-3, wave.size) for wave in (volts, amps)]
    places = ("dc link", "dc link") if direct else ("supply", "line")
    samples = window((voltage(places[0]), current(places[1])), noisy)
    made = rows_of(samples, None, kind, plate, wanted_of(samples.channels, kind), 5.0)
    assert made is not None
    return switched(samples, 0, 1, made[0], plate, not direct)


def sines(hertz: float = 50.0) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    angle = 2 * np.pi * hertz * T
    return 325.0 * np.sin(angle), 0.7 * np.sin(angle - 0.4)


MOMENTS_S = np.arange(0.0045, 0.198, 0.0065)


@pytest.mark.parametrize("hertz", [50.0, 60.0])
@pytest.mark.parametrize("at_s", MOMENTS_S)
def test_coming_on_and_going_off_anywhere_in_a_window_are_seen(at_s: float, hertz: float) -> None:
    volts, amps = sines(hertz)
    assert asked(volts * (at_s <= T), amps * (at_s <= T))
    off = at_s <= T
    emf = np.where(off, 0.8 * np.exp(-(T - at_s) / 0.03), 1.0)  # of the motor, that dies away
    if at_s < 0.18:  # later the EMF is nearly the supply's voltage
        assert asked(volts * emf, amps * ~off)
        assert asked(volts * ~off, amps * ~off)


@pytest.mark.parametrize("hertz", [49.5, 50.0, 60.0])
def test_what_is_no_switching(hertz: float) -> None:
    volts, amps = sines(hertz)
    nothing = np.zeros(T.size)
    assert not asked(volts, amps)
    assert not asked(nothing, nothing)
    assert not asked(volts, amps * (T >= 0.1))  # the motor's own switch
    assert not asked(0.9 * volts, amps * (T < 0.1))
    assert not asked(volts * np.where((T > 0.05) & (T < 0.15), 0.6, 1.0), amps)  # a dip
    assert not asked(0.6 * volts * np.exp(-T / 0.03), nothing)  # an EMF dies away: it was switched off before
    assert asked(volts * np.where((T > 0.05) & (T < 0.15), 0.0, 1.0), amps)  # off and on


def test_a_direct_supply() -> None:
    plate = Plate(voltage_v=36.0, current_a=13.7)
    link, amps = np.full(T.size, 36.0), np.full(T.size, 5.0)
    assert not asked(link, amps, plate, direct=True)
    assert not asked(
        link * np.where(T < 0.1, 1.0, 0.85), amps * np.where(T < 0.1, 0.1, 4.0), plate, direct=True
    )  # sags
    emptied = np.where(T < 0.1, 1.0, np.exp(-(T - 0.1) / 0.5))
    assert asked(link * emptied, amps * (T < 0.1), plate, direct=True)
    assert not asked(0.8 * link * np.exp(-T / 0.5), 0.0 * amps, plate, direct=True)  # switched off before
    assert asked(link * (T > 0.05), amps * (T > 0.1), plate, direct=True)


@pytest.mark.parametrize(
    ("motor", "story"),
    [
        ("cabin_ventilator", "start and load"),
        pytest.param("cabin_ventilator", "stall and release", marks=pytest.mark.long),
        pytest.param("cabin_ventilator", "start without capacitor", marks=pytest.mark.long),
        pytest.param("tender_thruster", "load and stall", marks=pytest.mark.long),
        ("tender_thruster", "reversal"),
    ],
)
def test_of_a_story_the_windows_are_marked_in_which_it_switched_and_no_others(motor: str, story: str) -> None:
    said = told(motor, story)
    power = [each.board_s for each in said.events if each.kind in ("power_on", "power_off")]
    assert power[0] == pytest.approx(when(motor, story, "supply_on", 1), abs=0.001)
    ends = [at for at, _ in said.readings("voltage_rms_v")]
    inside = {at for at in ends if any(at - 0.199 < each < at - 0.001 for each in power)}
    # A window that begins with the moment itself holds at most a wave's last sample of what was before.
    begins = {at for at in ends if any(abs(at - 0.2 - each) <= 0.001 for each in power)}
    marked = {at for at, reading in said.readings("voltage_rms_v") if SWITCHED in reading.reason}
    assert inside <= marked <= inside | begins
    for instant in said.instants:
        if instant.board_s not in marked:
            continue
        its = {each.key: each for each in instant.readings if not each.place}
        for key in ("voltage_rms_v", "current_rms_a", "active_power_w"):
            assert (its[key].confidence, its[key].reason.count(SWITCHED)) == (Confidence.DOUBTFUL, 1)
        for key in ("frequency_hz", "slip", "power_factor", "current_harmonics_a", "current_thd_percent"):
            assert key not in its or its[key].confidence is not Confidence.GOOD
        assert its["current_peak_a"].confidence is Confidence.GOOD


def test_all_other_windows_stay_as_they_are_to_the_last_bit(monkeypatch: pytest.MonkeyPatch) -> None:
    story = ((0.95, 0.0, 0.0, 0.0), (0.5, 230.0, 1.5, 1400.0), (0.85, 230.0, 0.5, 1400.0), (0.7, 0.0, 0.0, 0.0))

    def instants() -> tuple[Instant, ...]:
        return Pipeline(RigSettings("r")).push(TinyBoard().wire(story), 0.0).instants

    def never(*_: Any) -> bool:
        return False

    after = instants()
    monkeypatch.setattr(watched_state, "switched", never)
    before = instants()
    changed = [one.board_s for one, other in zip(before, after, strict=True) if one != other]
    assert changed == pytest.approx([1.0, 2.4])


def test_a_window_with_a_load_step_is_doubtful_in_what_rests_on_the_current() -> None:
    said, step_s = told("tender_thruster", "load and stall"), 5.5
    its = {reading.id: reading for key in ("current_mean_a", "active_power_w", "voltage_rms_v") for at, reading in
           said.readings(key) if step_s < at - 0.05 < step_s + 0.199}  # fmt: skip
    assert its["voltage_rms_v"].confidence is Confidence.GOOD
    assert CHANGED in its["current_mean_a"].reason
    assert CHANGED in its["active_power_w"].reason
    steady = [reading for at, reading in said.readings("current_mean_a") if 3.0 < at < 5.4]
    assert len(steady) > 10
    assert {reading.confidence for reading in steady} == {Confidence.GOOD}


def test_all_that_a_current_or_a_power_has_a_part_in_is_doubtful_when_the_current_changes() -> None:
    of_current = [each.key for each in QUANTITIES if "current" in each.key or "power" in each.key]
    readings = [Reading(key, 1.0) for key in of_current if key not in ("current_peak_a",)]
    assert len(readings) > 25
    assert {each.confidence for each in marked_changed(readings)} == {Confidence.DOUBTFUL}
    assert [each.key for each in marked_changed(readings) if each.doubt] == ["current_rms_a"]
    assert [(each.key, each.doubt) for each in marked(readings) if each.doubt] == [
        ("current_rms_a", Doubt.OF_ALL_THE_WINDOW)
    ]
    unsure = doubtful(Reading("current_rms_a", 1.0), "samples are missing")
    assert marked_changed([unsure])[0].doubt is Doubt.NONE, "not for the one reason alone"
    assert marked_changed([Reading("voltage_rms_v", 230.0)])[0].confidence is Confidence.GOOD
