"""What one rig's verdicts and guided check stand on besides the shaft: names, the plate, the supply of the sensors."""

import pytest

from firmware_protocol import Role
from server.config import Wires
from server.hall.supply import SENSOR_SUPPLY
from server.pipeline import Output
from server.procedures.hall_records import Act, Answers, Told
from server.samples import Channel, SlowSample
from server.wiring.names import Names
from tests.server.test_checking import EXCHANGED, Bench


def test_wires_have_the_names_of_the_settings_until_another_is_said_here_or_there() -> None:
    bench = Bench()
    bench.view.wires = Wires("blue", "green", "white", "red", "black", "yellow")
    bench.word()
    bench.turn(EXCHANGED)
    assert "U (red) and W (yellow)" in bench.checking.record(bench.view)["far"]["below"]
    bench.checking.name_wires(bench.view, Names(phases=("1", "2", "3")))
    assert "U (1) and W (3)" in bench.checking.record(bench.view)["far"]["below"]
    bench.view.wires = Wires(lead_u="brown")  # by hand, in the file
    bench.checking.begin(bench.view)
    assert bench.checking.record(bench.view)["check"]["names"]["phases"] == ["brown", "", ""]


def test_what_the_plate_knows_is_filled_into_the_check_and_a_person_may_say_otherwise() -> None:
    # The plate of the board that is turned: 13.7 A and 7 pole pairs (tests/server/turned_board.py).
    bench = Bench()
    bench.checking.begin(bench.view)  # before the board is there
    check = bench.checking.record(bench.view)["check"]
    assert (check["plate"]["source"], check["answers"]["pole_pairs"]) == ("", None)
    bench.turn()
    check = bench.checking.record(bench.view)["check"]
    assert check["plate"] == {"source": "board", "pole_pairs": 7, "rated_a": 13.7, "spacing_deg": 120}
    assert [check["answers"][key] for key in ("pole_pairs", "rated_a", "spacing_deg")] == [7, 13.7, 120]
    names = Names(("a", "b", "c"), ("u", "v", "w"))
    bench.checking.act(bench.view, Told(Act.ANSWER, Answers(names, pole_pairs=4, spacing_deg=60)))
    check = bench.checking.record(bench.view)["check"]
    assert check["key"] == "supply"
    assert [check["answers"][key] for key in ("pole_pairs", "rated_a", "spacing_deg")] == [4, None, 60]


@pytest.mark.parametrize(("volts", "rated_v", "low"), [(3.9, None, True), (4.6, None, False), (3.2, 3.3, False)])
def test_a_supply_below_what_the_sensors_need_is_told_and_leaves_no_verdict_plain(
    volts: float, rated_v: float | None, low: bool
) -> None:
    bench = Bench()
    bench.checking.begin(bench.view)
    bench.checking.act(bench.view, Told(Act.ANSWER, Answers(rated_v=rated_v)))
    bench.turn(EXCHANGED)
    supply = Channel(3, Role.VOLTAGE, "sensors", SENSOR_SUPPLY, "V", 0.0, 0.1)
    told = Output(slow=(SlowSample(supply, 1, 1, volts, False),))
    bench.view.take(told, told.clock)
    record = bench.checking.record(bench.view)
    found = {each["key"]: each for each in record["verdicts"]}
    assert ("hall_supply_low" in found) == low
    assert record["far"]["word"] == "Would not turn as it is wired"
    plain = [each["certainty"] for each in record["verdicts"] if each["certainty"] == "plain"]
    assert bool(plain) != low
    if low:
        says = "The sensors' supply reads 3.90 V, and 5 V sensors need 4.5 V (common practice)."
        against = {"speaks": "against", "text": says}
        assert all(against in each["signs"] for key, each in found.items() if key.startswith("commutation_"))


def test_a_wiring_is_judged_by_the_table_that_the_drive_of_a_demo_motor_was_told() -> None:
    bench = Bench()
    bench.word()
    bench.turn()
    said = []
    for table_deg in (None, 60, 120):
        bench.checking.drive_table(bench.view, table_deg)
        said.append(bench.checking.record(bench.view))
    assert [each["far"]["word"] for each in said] == [
        "Would run as it is wired",
        "A, B and C read alike",
        "Would run as it is wired",
    ]
    assert said[1]["verdicts"][0]["key"] == "hall_polarity_mixed"
