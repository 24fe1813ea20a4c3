"""Readings of Hall sensors whose supply is too low are doubtful, and say so; what is not measured, or old, does not."""

from firmware_protocol import Role
from server.hall.supply import SENSOR_SUPPLY, SensorSupply, least_v
from server.readings import Confidence, Reading
from server.samples import Channel

TICK_HZ = 1e6
VOLTAGE = Channel(3, Role.VOLTAGE, "sensors", SENSOR_SUPPLY, "V", 0.0, 0.1)
CURRENT = Channel(4, Role.CURRENT, "sensors", SENSOR_SUPPLY, "A", 0.0, 0.1)
TOLD = [Reading("speed_rpm", 600.0), Reading("hall_state", 5)]


def confidences(supply: SensorSupply, tick: int) -> set[Confidence]:
    return {each.confidence for each in supply.marked(TOLD, tick, TICK_HZ)}


def test_five_volts_less_a_tenth_is_the_least_where_nobody_says_another() -> None:
    # Sensors at their rated supply, often 5 V, less than nine tenths too little: common practice, no published source.
    assert (least_v(), least_v(3.3), least_v(12.0)) == (4.5, 0.9 * 3.3, 10.8)


def test_a_low_supply_makes_readings_doubtful_with_the_reason_and_a_good_one_does_not() -> None:
    supply = SensorSupply()
    assert confidences(supply, 10) == {Confidence.GOOD}
    supply.take_single(VOLTAGE, 100, 3.9)
    (speed, _) = supply.marked(TOLD, 200, TICK_HZ)
    assert speed.confidence is Confidence.DOUBTFUL
    assert speed.reason == "the supply of the Hall sensors is too low: 3.90 V, and 5 V sensors need 4.5 V"
    supply.take_single(VOLTAGE, 300, 4.5)
    assert confidences(supply, 400) == {Confidence.GOOD}


def test_another_channel_or_one_that_is_silent_says_nothing() -> None:
    supply = SensorSupply()
    supply.take_single(CURRENT, 100, 0.01)
    assert confidences(supply, 200) == {Confidence.GOOD}
    supply.take_single(VOLTAGE, 100, 3.9)
    assert confidences(supply, 5_000_100) == {Confidence.DOUBTFUL}
    assert confidences(supply, 5_000_101) == {Confidence.GOOD}
