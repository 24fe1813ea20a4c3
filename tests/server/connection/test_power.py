"""One voltage and one current, from the wire bytes of bench motors to the words."""

from pathlib import Path

import pytest

from server.connection import Correctness
from server.readings import Confidence
from simulator.bench import bench_motor, with_stories
from tests.server.connection.boards import described, seeing, told, told_right, turned

SECONDS = 2.5


@pytest.mark.parametrize(
    ("key", "channel", "place", "reading"),
    [
        ("cabin_ventilator", "I_line", "line", "active_power_w"),
        ("bilge_pump", "I_motor", "motor", "active_power_w"),
        ("lathe", "I_field", "field", "active_power_w.field"),
        ("tender_thruster", "I_DC_link", "dc link", "active_power_w"),
    ],
)
def test_a_current_sensor_that_is_turned_round_is_told_by_the_power_of_a_start(
    key: str, channel: str, place: str, reading: str
) -> None:
    story = "start and speed steps" if key == "tender_thruster" else "start and load"
    seconds = 3.0 if key == "tender_thruster" else SECONDS
    assert told_right(key, seconds, story).wrong() == set()
    found = told(bench_motor(key), seconds, story, **{channel: turned})
    assert found.wrong() == {("arrow", place)}
    arrow = found.finding("arrow", "current", place)
    assert f"Is the current sensor of {place} turned round?" in arrow.text
    assert arrow.text.startswith(f"The power of {place} was −")
    assert arrow.change.startswith(f"Turn the current sensor of {place} round, or exchange the two ends of the probe")
    assert found.readings[reading].confidence is Confidence.DOUBTFUL
    assert found.readings[reading].reason.endswith(f"the current of {place} seems turned round: power negative")


GIVES_BACK = """
stories:
- name: falls
  says: its supply falls to two thirds while it turns fast
  lasts_s: 8
  steps:
  - {at_s: 1, supply_on: on, starter_ohm: 0}
  - {at_s: 4, battery_v: 90}
"""


def test_a_motor_that_gives_power_back_in_its_run_is_not_called_wrong(tmp_path: Path) -> None:
    file = tmp_path / "falls.yaml"
    file.write_text(GIVES_BACK)
    lathe = told(with_stories(bench_motor("lathe"), file), 6.0, "falls")
    assert sum(watts < -20.0 for watts in lathe.watts) >= 2
    assert lathe.wrong() == set()
    assert lathe.finding("arrow", "current", "armature").verdict is Correctness.RIGHT
    assert lathe.readings["active_power_w"].confidence is Confidence.GOOD


def test_power_below_nothing_without_a_start_says_what_else_it_may_be() -> None:
    servo = told(bench_motor("gimbal"), 4.0, "low supply", I_motor=turned)
    arrow = servo.finding("arrow", "current", "motor")
    assert arrow.verdict is not Correctness.RIGHT
    if arrow.verdict is Correctness.UNKNOWN:
        assert "Either the motor gave power back, or the current sensor of motor is turned round." in arrow.text


def test_voltage_and_current_of_the_capacitor_tell_which_of_them_is_turned() -> None:
    assert (
        told_right("cabin_ventilator", SECONDS).finding("capacitor", "voltage", "capacitor").verdict
        is Correctness.RIGHT
    )
    found = told(bench_motor("cabin_ventilator"), SECONDS, I_auxiliary=turned)
    assert found.wrong() == {("capacitor", "capacitor")}
    finding = found.finding("capacitor", "voltage", "capacitor")
    assert finding.text.endswith("behind the voltage of capacitor: one of them is turned round.")
    assert finding.text.startswith("The current of auxiliary was ")


CONTACT = """
stories:
- name: contact
  says: its lead has a poor contact
  lasts_s: 6
  steps:
  - {at_s: 1, lead_ohm: 8, supply_on: on}
"""


def test_voltages_before_and_behind_a_lead_that_are_exchanged_are_told(tmp_path: Path) -> None:
    file = tmp_path / "contact.yaml"
    file.write_text(CONTACT)
    right = told(with_stories(bench_motor("hand_planer"), file), 3.0, "contact")
    assert right.finding("behind", "voltage", "motor").verdict is Correctness.RIGHT
    planer = with_stories(seeing("hand_planer", U_motor="supply_v", U_supply="terminal_v"), file)
    finding = told(planer, 3.0, "contact").finding("behind", "voltage", "motor")
    assert finding.verdict is Correctness.WRONG
    assert finding.text.endswith("more than its supply.")


def test_a_motor_that_runs_with_both_signs_turned_may_as_well_run_the_other_way() -> None:
    found = told(bench_motor("bilge_pump"), SECONDS, U_motor=turned, I_motor=turned)
    polarity = found.finding("polarity", "voltage", "motor")
    assert found.wrong() == set()
    assert polarity.verdict is Correctness.UNKNOWN
    assert "the motor's leads are exchanged, as they are for the other direction" in polarity.text


def test_two_coils_whose_voltages_are_exchanged_have_no_power_of_their_own() -> None:
    found = told(seeing("hatch_actuator", U_coil_1="coil_2_v", U_coil_2="coil_1_v"), 4.0)
    finding = found.finding("same_phase", "current", "coil 1")
    assert finding.verdict is Correctness.WRONG
    assert finding.text.endswith("voltage of one, current of the other.")


def test_a_sensor_that_says_it_passes_no_direct_current_is_wrong_at_once_on_a_dc_motor() -> None:
    pump = described(bench_motor("bilge_pump"), "I motor", ac_coupled=True)
    finding = told(pump, SECONDS).finding("direct", "current", "motor")
    assert finding.verdict is Correctness.WRONG
    assert finding.text == "The current sensor of motor passes no direct current."
    assert finding.change == "Use a sensor that passes direct current: a Hall-effect sensor or a shunt."


def test_a_clamp_that_passes_no_direct_current_is_found_by_its_mean() -> None:
    pump = told(bench_motor("bilge_pump"), SECONDS, I_motor=lambda values: values - values.mean())
    finding = pump.finding("direct", "current", "motor")
    assert finding.text.endswith("its sensor passes no direct current.")
    assert finding.verdict is Correctness.WRONG


def test_both_ends_of_a_probe_on_one_conductor_leave_no_voltage_while_current_flows() -> None:
    found = told(bench_motor("cabin_ventilator"), SECONDS, U_supply=lambda values: 0.0 * values)
    finding = found.finding("across", "voltage", "supply")
    assert finding.verdict is Correctness.WRONG
    assert finding.change == "Both ends of its probe may be on the same conductor, or one is off."
