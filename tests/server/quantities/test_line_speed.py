"""Speed that no input tells, as readings: what is needed, when it is absent, what is said where two do not agree."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from server.config import Plate
from server.hall import MAYBE_LOST
from server.motors import motor_type
from server.quantities.best_speed import best_speed
from server.quantities.uncertainty import combined
from server.readings import Confidence, Doubt, Reading, Uncertainty, absent, doubtful
from server.samples import Part
from tests.server.quantities.windows import current, number, read, voltage, window

MAGNET, INDUCTION, UNIVERSAL, BRUSHLESS = (
    motor_type(key) for key in ("permanent_magnet_dc", "three_phase_induction", "universal", "brushless")
)
PUMP = Plate(voltage_v=12, current_a=4.2, speed_rpm=3570, pole_pairs=1, commutator_bars=12)
CAGE = Plate(voltage_v=400, frequency_hz=50, current_a=3.4, speed_rpm=1420, pole_pairs=2, rotor_slots=28)
CLOCK = Part(50e-6 / 3**0.5)
_T = np.arange(4000) / 20_000.0


def tone(hertz: float, size: float, phase: float = 0.3) -> NDArray[np.float64]:
    out: NDArray[np.float64] = size * np.cos(2 * np.pi * hertz * _T + phase)
    return out


def noise(size: float, seed: int = 1) -> NDArray[np.float64]:
    return np.random.default_rng(seed).normal(0, size, 4000)


def pump(rpm: float, plate: Plate = PUMP, amps: float = 4.0, speed: Reading | None = None) -> dict[str, Reading]:
    ripple = tone(12 * rpm / 60, 0.05 * amps) + tone(24 * rpm / 60, 0.01 * amps)
    rows = [np.full(4000, 12.0) + noise(0.01), amps + ripple + noise(0.005 * amps, 2)]
    channels = (voltage("motor", 40.0, clock=CLOCK), current("motor", clock=CLOCK))
    return read(window(channels, rows), MAGNET, plate, speed)


def cage(slip: float, plate: Plate = CAGE, size: float = 0.03) -> dict[str, Reading]:
    slots = 28 * 25 * (1 - slip)
    amps = tone(50, 4.8, -0.6) + tone(slots - 50, size) + tone(slots + 50, size, 1.0) + noise(0.01, 3)
    lines = [tone(50, 326.6, -2 * np.pi * k / 3) + noise(0.1, k) for k in range(3)]
    channels = [*(voltage(f"L{k + 1}", clock=CLOCK) for k in range(3)), current("L1", clock=CLOCK)]
    return read(window(channels, [*lines, amps]), INDUCTION, plate)


@pytest.mark.parametrize("rpm", [1800.0, 3570.0, 4400.0])
def test_ripple_tells_the_speed_of_a_motor_without_any_input(rpm: float) -> None:
    found = pump(rpm)
    assert number(found, "ripple_speed_rpm") == pytest.approx(rpm, rel=2e-4)
    assert number(found, "ripple_frequency_hz") == pytest.approx(12 * rpm / 60, rel=2e-4)
    assert found["speed_rpm"].value == found["ripple_speed_rpm"].value
    assert found["speed_source"].value == "commutator ripple"
    interval = found["speed_rpm"].uncertainty
    assert interval is not None
    assert interval.low < rpm < interval.high
    assert [word for word, _ in interval.parts] == ["noise beside the lines", "board's clock"]


def test_without_bars_on_the_plate_the_frequency_alone_is_told() -> None:
    found = pump(3570, replace(PUMP, commutator_bars=None))
    assert found["ripple_speed_rpm"].reason == "commutator_bars is not on the plate"
    assert number(found, "ripple_frequency_hz") == pytest.approx(714.0, abs=0.1)


def test_without_a_plate_speed_a_ripple_speed_is_doubtful() -> None:
    found = pump(3570, replace(PUMP, speed_rpm=None))
    assert found["ripple_speed_rpm"].confidence is Confidence.DOUBTFUL
    assert "plate speed" in found["ripple_speed_rpm"].reason


def test_without_current_without_lines_and_with_a_gap_there_is_no_ripple_speed() -> None:
    assert pump(3570, amps=0.0)["ripple_speed_rpm"].reason == "no current flows"
    rows = [np.full(4000, 12.0) + noise(0.01), 27 + noise(0.02, 2)]
    channels = (voltage("motor", 40.0), current("motor", 50.0))
    assert "stands out" in read(window(channels, rows), MAGNET, PUMP)["ripple_speed_rpm"].reason
    gap = read(window(channels, rows, missing=slice(100, 130)), MAGNET, PUMP)
    assert gap["ripple_speed_rpm"].reason == "the window has a gap"


def test_sampled_too_slowly_is_said() -> None:
    rows = [np.full(200, 12.0), 4.0 + np.random.default_rng(1).normal(0, 0.02, 200)]
    channels = (voltage("motor", 40.0), current("motor"))
    found = read(window(channels, rows, 1000.0), MAGNET, replace(PUMP, speed_rpm=20_000.0))
    assert found["ripple_speed_rpm"].reason == "sampled too slowly for 12 lines to a turn"


def test_ripple_of_a_motor_on_alternating_current_stands_on_both_sides_of_its_order() -> None:
    turns = 12_700 / 60
    amps = tone(50, 4.3) + tone(150, 0.3) + tone(24 * turns - 50, 0.03) + tone(24 * turns + 50, 0.03, 1.0) + noise(0.01)
    plate = Plate(voltage_v=230, frequency_hz=50, current_a=3.1, speed_rpm=12_960, pole_pairs=1, commutator_bars=24)
    channels = (voltage("motor"), current("motor"))
    found = read(window(channels, [tone(50, 325.0) + noise(0.1, 5), amps]), UNIVERSAL, plate)
    assert number(found, "ripple_speed_rpm") == pytest.approx(12_700, rel=2e-4)


@pytest.mark.parametrize("slip", [0.03, 0.0533, 0.09])
def test_slots_tell_speed_and_slip_of_an_induction_motor(slip: float) -> None:
    # 3 %: 629 and 729 Hz with 28 bars and two pole pairs at 50 Hz (Nandi, Toliyat and Li, from memory).
    found = cage(slip)
    assert number(found, "slot_speed_rpm") == pytest.approx(1500 * (1 - slip), abs=0.5)
    assert min(abs(number(found, "slot_frequency_hz") - 700 * (1 - slip) - side) for side in (-50, 50)) < 0.3
    assert found["speed_source"].value == "rotor slots"
    assert number(found, "slip") == pytest.approx(slip, abs=4e-4)


def test_slots_are_absent_with_the_reason() -> None:
    assert cage(0.05, replace(CAGE, rotor_slots=None))["slot_speed_rpm"].reason == "rotor_slots is not on the plate"
    assert "stands out" in cage(0.05, size=0.0)["slot_speed_rpm"].reason
    assert "stands out" in cage(0.0, size=0.0)["slip"].reason


def loaded(slip: float, *lines: tuple[float, float]) -> dict[str, Reading]:
    """Slots of 1.5 % at this slip, and other lines of so many hertz and ampere in the current."""
    turns = 25 * (1 - slip)
    amps = tone(50, 4.8) + noise(0.004, 5) + tone(28 * turns - 50, 0.07) + tone(28 * turns + 50, 0.05)
    amps += sum(tone(hertz, size) for hertz, size in lines)
    volts = [tone(50, 325.0, -2 * np.pi * k / 3) + noise(0.1, k) for k in range(3)]
    channels = [*(voltage(f"L{k + 1}") for k in range(3)), current("L1", clock=CLOCK)]
    return read(window(channels, [*volts, amps]), INDUCTION, CAGE)


@pytest.mark.parametrize("slip", [0.0005, 0.004, 0.01])
def test_near_no_load_the_lines_of_the_slots_cannot_be_told_from_harmonics_and_it_is_said(slip: float) -> None:
    # f_sh = f (R (1 - s) / p +- 1): at no slip orders 28 / 2 +- 1 of the supply.
    found = loaded(slip, (650.0, 0.05), (750.0, 0.03))
    for key in ("slot_speed_rpm", "slot_frequency_hz"):
        assert found[key].value is None
        assert found[key].reason.endswith("near no load they lie on orders 13 and 15 of the supply")


def test_lines_of_an_eccentric_rotor_near_no_load_are_not_taken_for_slots_without_doubt() -> None:
    # The same relation with one turn more or less to the slots: (R +- 1) (1 - s) / p +- 1 (Nandi, Toliyat and Li, from
    # memory). One turn less is where 28 slots would be at 3.6 % of slip.
    turns = 25 * (1 - 0.001)
    beside = [(order * turns + side, 0.03) for order in (27, 29) for side in (-50, 50)]
    found = loaded(0.001, *beside)["slot_speed_rpm"]
    assert found.value == pytest.approx(27 / 28 * turns * 60, abs=3.0)
    assert found.reason == "1499 r/min fits its lines nearly as well"


@pytest.mark.parametrize("slip", [0.02, 0.03, 0.036])
def test_harmonics_of_the_supply_beside_the_lines_of_the_slots_do_not_move_the_speed(slip: float) -> None:
    found = loaded(slip, (650.0, 0.15), (750.0, 0.1))["slot_speed_rpm"]
    assert found.value == pytest.approx(1500 * (1 - slip), abs=3.0)
    assert found.uncertainty is not None
    assert found.uncertainty.low < 1500 * (1 - slip) < found.uncertainty.high


def test_an_induction_motor_that_coasts_tells_its_speed_by_its_own_voltage() -> None:
    fading = np.exp(-_T / 0.5)
    lines = [fading * tone(47.2, 150.0, -2 * np.pi * k / 3) + noise(0.1, k) for k in range(3)]
    channels = [*(voltage(f"L{k + 1}") for k in range(3)), current("L1")]
    found = read(window(channels, [*lines, noise(1e-3, 7)]), INDUCTION, CAGE)
    assert number(found, "emf_speed_rpm") == pytest.approx(47.2 * 30, rel=2e-3)
    # The whole voltage on an open line is a supply's, and says nothing of a shaft.
    lines = [tone(50.0, 326.6, -2 * np.pi * k / 3) for k in range(3)]
    assert "no voltage" in read(window(channels, [*lines, noise(1e-3, 7)]), INDUCTION, CAGE)["emf_speed_rpm"].reason


def test_a_motor_with_magnets_that_coasts_tells_its_speed_by_its_constant() -> None:
    plate = replace(PUMP, back_emf_constant=0.0259)
    channels = (voltage("motor", 40.0), current("motor"))
    rows = [np.full(4000, 0.0259 * 2000 * np.pi / 30) + noise(0.01), noise(1e-3)]
    assert number(read(window(channels, rows), MAGNET, plate), "emf_speed_rpm") == pytest.approx(2000, rel=1e-3)
    assert "constant" in read(window(channels, rows), MAGNET, PUMP)["emf_speed_rpm"].reason


def test_a_brushless_motor_that_coasts_tells_its_speed_by_two_phases() -> None:
    plate = Plate(voltage_v=36, current_a=13.7, pole_pairs=7)
    channels = (voltage("dc link", 45.0), voltage("U", 45.0), voltage("V", 45.0), current("dc link", 60.0))
    common = 5 + tone(350, 2.0)
    rows = [np.full(4000, 36.0), common + tone(140, 8.0), common + tone(140, 8.0, 0.3 - 2.094), noise(1e-3)]
    found = read(window(channels, rows), BRUSHLESS, plate)
    assert number(found, "emf_speed_rpm") == pytest.approx(140 * 60 / 7, rel=1e-4)
    driven = read(window(channels, [*rows[:3], 5 + noise(1e-3)]), BRUSHLESS, plate)
    assert driven["emf_speed_rpm"].reason == "it is driven: current flows"


def by(key: str, value: float, half: float | None = 0.5) -> Reading:
    sure = None if half is None else Uncertainty(value - half, value + half, 1.96, ())
    return Reading(key, value, uncertainty=sure)


def test_edges_stand_before_ripple_and_a_good_speed_before_a_doubtful_one() -> None:
    edges, words = by("speed_rpm", 3571.0), Reading("speed_source", "shaft pulses")
    speed, source = best_speed(edges, words, [by("ripple_speed_rpm", 3570.0)])
    assert (speed.value, speed.confidence, source.value) == (3571.0, Confidence.GOOD, "shaft pulses")
    late = Reading("speed_rpm", 900.0, Confidence.DOUBTFUL, "no edge for 0.07 s: at most this")
    speed, source = best_speed(late, words, [by("ripple_speed_rpm", 3570.0)])
    assert (speed.value, speed.confidence, source.value) == (3570.0, Confidence.GOOD, "commutator ripple")
    lost = doubtful(Reading("speed_rpm", 900.0), MAYBE_LOST, Doubt.EDGE_MAY_BE_MISSING)
    speed, source = best_speed(lost, words, [by("ripple_speed_rpm", 3570.0)])
    assert (speed.value, speed.reason, source.reason) == (3570.0, MAYBE_LOST, MAYBE_LOST)
    speed, _ = best_speed(late, words, [absent("ripple_speed_rpm", "no line")])
    assert (speed.value, speed.confidence) == (900.0, Confidence.DOUBTFUL)
    none = absent("speed_rpm", "fewer than two pulses so far")
    speed, source = best_speed(none, None, [absent("ripple_speed_rpm", "no line")])
    assert (speed.reason, source.confidence) == ("fewer than two pulses so far", Confidence.ABSENT)


@pytest.mark.parametrize(("edges_rpm", "half"), [(3300.0, 0.5), (0.0, None), (-3300.0, 0.5), (7142.0, 0.5)])
def test_two_speeds_that_do_not_agree_are_both_told(edges_rpm: float, half: float | None) -> None:
    edges, ripple = by("speed_rpm", edges_rpm, half), by("ripple_speed_rpm", 3571.0)
    speed, _ = best_speed(edges, Reading("speed_source", "pulses"), [ripple])
    assert speed.value == edges_rpm
    assert speed.confidence is Confidence.DOUBTFUL
    assert speed.reason == f"{abs(edges_rpm):.0f} r/min by pulses, 3571 r/min by commutator ripple"
    assert speed.uncertainty is None


def test_speeds_of_either_direction_and_within_a_per_cent_agree() -> None:
    for edges_rpm in (-3571.0, 3550.0):
        speed, _ = best_speed(by("speed_rpm", edges_rpm), None, [by("ripple_speed_rpm", 3571.0)])
        assert speed.confidence is Confidence.GOOD


def test_in_a_window_edges_and_ripple_are_compared() -> None:
    agreeing = pump(3570, speed=by("speed_rpm", 3571.0))
    assert agreeing["speed_rpm"].confidence is Confidence.GOOD
    assert agreeing["speed_rpm"].value == 3571.0
    # Two pulses a turn where the settings say one.
    differing = pump(3570, speed=by("speed_rpm", 7140.0))
    assert "3570 r/min by commutator ripple" in differing["speed_rpm"].reason


def test_a_slip_is_known_with_the_degrees_of_freedom_of_its_speed() -> None:
    # 0.5 r/min by six edges of a fit: 2.571 of them is the interval of 95 % (JCGM 100, table G.2 at 5), of 1500 r/min.
    lines = [tone(50, 325.0, -2 * np.pi * k / 3) + noise(0.1, k) for k in range(3)]
    channels = [*(voltage(f"L{k + 1}", clock=CLOCK) for k in range(3)), current("L1", clock=CLOCK)]
    speed = Reading("speed_rpm", 1420.0, uncertainty=combined(1420.0, [("scatter of the edges", 0.5, 5.0)]))
    found = read(window(channels, [*lines, tone(50, 4.8)]), INDUCTION, replace(CAGE, rotor_slots=None), speed)["slip"]
    assert found.uncertainty is not None
    assert found.uncertainty.coverage_factor == pytest.approx(2.571, abs=0.01)
    assert found.uncertainty.half == pytest.approx(2.571 * 0.5 / 1500, rel=0.01)
