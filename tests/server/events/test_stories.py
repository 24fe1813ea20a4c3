"""Events against what the simulated motors really did: each once, at its time, with figures that are true."""

import pytest

from tests.server.bench_stories import told

VENTILATOR, THRUSTER = "cabin_ventilator", "tender_thruster"


def near(found: list[tuple[str, float]], expected: list[tuple[str, float, float]]) -> None:
    """Each kind in turn, within so many seconds."""
    assert [kind for kind, _ in found] == [kind for kind, _, _ in expected], found
    for (kind, at), (_, true_s, within_s) in zip(found, expected, strict=True):
        assert at == pytest.approx(true_s, abs=within_s), kind


def test_a_reversal_by_the_drive_is_one_event_and_no_coasting() -> None:
    near(
        told(THRUSTER, "reversal").kinds("power_on", "power_off"),
        [
            ("running", 2.27, 0.05),
            ("reversed", 7.65, 0.1),
            ("running", 8.37, 0.05),
            ("reversed", 14.15, 0.1),
            ("running", 14.87, 0.05),
            ("coasting", 18.5, 0.02),
            ("stopped", 18.95, 0.3),
        ],
    )


@pytest.mark.parametrize(
    ("motor", "story", "at_s"),
    [(VENTILATOR, "start and load", [9.0, 15.0]), (THRUSTER, "load and stall", [5.5, 8.5, 11.5, 13.5])],
)
def test_a_load_step_has_the_moment_at_which_the_current_left_its_level(
    motor: str, story: str, at_s: list[float]
) -> None:
    near(
        [each for each in told(motor, story).kinds() if each[0] == "load_step"],
        [("load_step", at, 0.04) for at in at_s],
    )


def test_a_lost_capacitor_is_no_load_step() -> None:
    kinds = [kind for kind, _ in told(VENTILATOR, "capacitor lost and restored").kinds()]
    assert kinds == ["power_on", "running", "auxiliary", "auxiliary", "power_off", "coasting", "stopped"]


@pytest.mark.parametrize(
    ("motor", "story"), [(VENTILATOR, "start and load"), (THRUSTER, "reversal"), (THRUSTER, "load and stall")]
)
def test_power_goes_off_before_the_current_ends(motor: str, story: str) -> None:
    said = told(motor, story)
    assert 0.0 < said.event("coasting").board_s - said.event("power_off").board_s < 0.02


def test_a_fan_that_is_held_and_freed() -> None:
    said = told(VENTILATOR, "stall and release")
    near(
        said.kinds("power_on", "power_off"),
        [
            ("running", 1.976, 0.04),
            ("stalled", 7.0, 0.03),
            ("released", 12.0, 0.15),
            ("running", 12.476, 0.06),
            ("stalled", 19.0, 0.03),  # what stood has not stopped when its power goes off
        ],
    )
    assert said.event("stalled").detail == "1.28 A"
    assert said.event("released").detail == ""
    assert told(VENTILATOR, "start and load").event("stopped").detail == "give or take 0.4 s"
    assert told(THRUSTER, "load and stall").event("stopped").detail == ""
    again = said.event("running", 1)
    assert again.text.startswith("Came back to speed after 0.4")
    assert again.value is None  # no start from rest


def test_what_comes_free_in_less_time_than_rows_can_tell_has_no_figure_of_it() -> None:
    again = told(THRUSTER, "load and stall").event("running", 1)
    assert (again.text, again.detail) == ("Came back to speed", "286 r/min")
    first = told(THRUSTER, "load and stall").event("running")
    assert first.text == "Up to speed after 0.76 s"  # power came 0.5 s before its drive let current flow
    assert first.detail == "95 % of 2063 r/min, from its first current"


@pytest.mark.parametrize(
    ("motor", "story"),
    [(VENTILATOR, "stall and release"), (VENTILATOR, "start and load"), (THRUSTER, "reversal")],
)
def test_a_change_of_state_and_its_event_have_the_same_moment(motor: str, story: str) -> None:
    said = told(motor, story)
    since = {state: [at for each, at in said.states() if each == state] for state, _ in said.states()}
    for kind, state in (("running", "running"), ("stalled", "stalled"), ("coasting", "coasting")):
        times = {at for each, at in said.kinds() if each == kind}
        assert times <= set(since.get(state, [])), kind


@pytest.mark.parametrize("motor", ["bilge_pump", "slipway_pump"])
def test_a_motor_that_is_free_and_at_speed_at_once_is_told_to_be_so(motor: str) -> None:
    said = [kind for kind, _ in told(motor, "stall and release").kinds("power_on", "power_off")]
    assert said[:5] == ["running", "stalled", "released", "running", "coasting"]


def test_a_start_that_is_short_has_had_its_auxiliary_current() -> None:
    found = [each.text for each in told("air_compressor", "start and load").events if each.kind == "auxiliary"]
    assert found == ["Auxiliary current fell to zero"]
