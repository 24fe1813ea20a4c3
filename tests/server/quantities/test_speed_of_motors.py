"""What the service says of speeds against what the software boards' shafts really did."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from server.config import RigSettings
from server.pipeline import Pipeline
from server.readings import Confidence, Instant, Reading
from simulator.bench import bench_board


@dataclass(frozen=True)
class Window:
    """The readings of one window, the mean speed of the shaft in it and by how much that changed, in r/min."""

    end_s: float
    readings: dict[str, Reading]
    rpm: float
    change_rpm: float

    def good(self, key: str) -> float | None:
        reading = self.readings.get(key)
        value = reading.value if reading is not None and reading.confidence is Confidence.GOOD else None
        return value if isinstance(value, float) else None


@lru_cache(maxsize=8)
def windows(motor: str, story: str, until_s: float) -> tuple[Window, ...]:
    board, pipeline = bench_board(motor, story=story, truth=True), Pipeline(RigSettings("r"))
    instants: list[Instant] = []
    truth: list[tuple[float, float]] = []
    for _ in range(round(2 * until_s)):
        instants += pipeline.push(board.step(0.5), 0.0).instants
        truth += [
            (row.board_s, float(str(row.values["speed_rpm"]))) for row in board.take_truth() if row.kind == "series"
        ]
    at, rpm = np.array(truth).T
    told = []
    for each in instants:
        inside = rpm[(at > each.board_s - each.interval_s + 0.005) & (at <= each.board_s + 0.005)]
        readings = {reading.id: reading for reading in each.readings}
        if "run_state" in readings and inside.size:
            told.append(Window(each.board_s, readings, float(np.abs(inside).mean()), float(np.ptp(inside))))
    return tuple(told)


def errors(found: tuple[Window, ...], key: str) -> list[float]:
    """Relative, of good readings while the speed is steady within 0.1 %."""
    steady = [each for each in found if each.rpm > 50 and each.change_rpm < 1e-3 * each.rpm]
    return [abs(value / each.rpm - 1) for each in steady if (value := each.good(key)) is not None]


def covered(found: tuple[Window, ...], key: str) -> float:
    """Share of steady windows in which the interval holds the truth."""
    held = []
    for each in found:
        sure = each.readings[key].uncertainty if key in each.readings else None
        if sure is not None and each.rpm > 50 and each.change_rpm < 2e-5 * each.rpm:
            held.append(sure.low - each.change_rpm <= each.rpm <= sure.high + each.change_rpm)
    assert len(held) > 10
    return sum(held) / len(held)


def test_ripple_tells_the_speed_of_the_bilge_pump_with_worn_brushes_and_with_a_bad_bar() -> None:
    found = [each for each in windows("bilge_pump", "worn brushes and a bad bar", 27.0) if each.end_s > 1.6]
    told = [(each, value) for each in found if (value := each.good("ripple_speed_rpm")) is not None]
    assert len(told) > 0.7 * len(found)  # worn brushes are louder than the ripple now and then
    assert all(abs(value - each.rpm) < 1e-3 * each.rpm + each.change_rpm for each, value in told)
    bad_bar = [each.readings["ripple_speed_rpm"].confidence for each in found if each.end_s > 21.4]
    assert bad_bar.count(Confidence.GOOD) > 0.9 * len(bad_bar)


def test_slots_tell_the_speed_of_the_slipway_pump_under_load() -> None:
    found = windows("slipway_pump", "slot lines", 24.0)
    seen = errors(found, "slot_speed_rpm")
    assert len(seen) > 40
    assert max(seen) < 5e-4
    assert covered(found, "slot_speed_rpm") > 0.9


def test_edges_of_a_thruster_whose_sensors_sit_badly_tell_its_speed() -> None:
    found = tuple(each for each in windows("tender_thruster", "start and speed steps", 17.0) if each.end_s <= 14.0)
    worst = {
        place: max(errors(found, f"edge_speed_rpm.{place}")) for place in ("one period", "electrical turn", "window")
    }
    assert worst["one period"] > 5e-3
    assert worst["electrical turn"] < 5e-3
    assert worst["window"] < 1e-4
    assert max(errors(found, "speed_rpm")) < 1e-4


def test_a_motor_that_coasts_is_followed_by_its_own_voltage() -> None:
    found = windows("tender_thruster", "start and speed steps", 17.0)
    coasting = [each for each in found if 15.2 < each.end_s < 15.7]
    for each in coasting:
        value = each.readings["emf_speed_rpm"].value
        assert isinstance(value, float)
        assert abs(value - each.rpm) < 0.05 * each.rpm + 0.1 * each.change_rpm


def test_constants_of_the_bilge_pump_are_those_that_it_was_made_with() -> None:
    found = windows("bilge_pump", "worn brushes and a bad bar", 27.0)
    early = [each for each in found if 2.0 < each.end_s < 4.0]
    for each in early:
        for key, truth in (("back_emf_constant", 0.0259), ("torque_constant", 0.0259)):
            sure = each.readings[key].uncertainty
            assert sure is not None
            assert sure.low < truth < sure.high
        torque = each.readings["shaft_torque_estimate_n_m"]
        assert torque.confidence is Confidence.DOUBTFUL
        assert abs(float(str(torque.value)) - 0.1058) < 0.005  # 4.085 A x 0.0259 V s/rad


def test_constants_of_the_thruster_are_those_that_it_was_made_with_while_it_coasts() -> None:
    # 0.0573 V s/rad a phase, flat top: between two lines twice that, and the torque of six steps has the same constant
    # (T = 2 k i of two phases in series; Pillay and Krishnan, IEEE Trans. Ind. Appl. 25 (1989), from memory).
    found = windows("tender_thruster", "start and speed steps", 17.0)
    coasting = [each for each in found if 15.2 < each.end_s < 15.9]
    assert min(each.rpm for each in coasting) < 0.2 * max(each.rpm for each in coasting)
    for each in coasting:
        constant = each.readings["back_emf_constant"]
        assert constant.uncertainty is not None
        assert constant.uncertainty.low < 2 * 0.0573 < constant.uncertainty.high
        assert constant.uncertainty.half < 0.005 * 2 * 0.0573
        assert abs(float(str(each.readings["torque_constant"].value)) - 2 * 0.0573) < 0.01 * 2 * 0.0573
        assert each.readings["torque_constant"].confidence is Confidence.DOUBTFUL
    assert found[40].readings["back_emf_constant"].reason == "it is driven: current flows"


def test_torque_of_the_thruster_is_estimated_from_its_link() -> None:
    found = windows("tender_thruster", "start and speed steps", 17.0)
    steady = [each for each in found if each.rpm > 500 and each.change_rpm < 1e-3 * each.rpm]
    assert len(steady) > 20
    for each in steady:
        torque = each.readings["shaft_torque_estimate_n_m"]
        assert torque.reason.startswith("an estimate: friction and iron losses are not taken off; nor what the drive")
        omega = each.rpm * np.pi / 30
        truth = 0.1 + 0.03 + 1e-4 * omega  # the load, dry friction and that of the bearings' grease
        drive_w = (float(str(torque.value)) - truth) * omega
        amps = float(str(each.readings["current_rms_a.U"].value))
        assert 0 < drive_w < 2 * 0.7 * amps + 1.4  # two diodes at most, and 36 V on 1 kilohm


def test_two_speeds_of_healthy_motors_hardly_ever_disagree() -> None:
    for motor, story, until_s in (
        ("bilge_pump", "worn brushes and a bad bar", 27.0),
        ("slipway_pump", "slot lines", 24.0),
        ("tender_thruster", "start and speed steps", 17.0),
    ):
        doubts = [each.readings["speed_rpm"].reason for each in windows(motor, story, until_s)]
        assert not [reason for reason in doubts if " r/min by " in reason], motor
