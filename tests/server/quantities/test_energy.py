"""Energy and charge since the last start: sums of known windows, gaps told, and the software board's own books."""

import pytest

from server.quantities import Energy, Stretch, energy_of
from server.readings import Confidence, Reading, Uncertainty, absent, doubtful

REST, RUN = ("resting",) * 20, ("running",) * 20
COAST, UNKNOWN = ("coasting",) * 20, ("unknown",) * 20
START = ("resting",) * 10 + ("starting",) * 10


def power(watts: float) -> Reading:
    parts = (("noise", 0.5), ("gains", 2.0))
    return Reading("active_power_w", watts, uncertainty=Uncertainty(watts - 4, watts + 4, 1.96, parts, scatter=0.5))


def after(*windows: tuple[tuple[str, ...], Reading, float], shaken: tuple[int, ...] = ()) -> Reading:
    """`shaken`: windows whose run states are not confirmed."""
    state, told = Energy(), list[Reading]()
    for number, (words, reading, gap_s) in enumerate(windows):
        stretch = Stretch(gap_s, 0.2, 0.2 if reading.value is not None else 0.0)
        both = [reading, Reading("frequency_hz", 50.0)]
        state, told = energy_of(state, both, words, stretch, confirmed=number not in shaken)
    return next(each for each in told if each.key == "energy_wh")


def test_an_hour_of_a_hundred_watts_is_a_hundred_watt_hours_and_its_limits_do_not_average_out() -> None:
    hour = [(RUN, power(100.0), 0.0)] * 17_999
    found = after((REST, power(0.0), 0.0), (START, power(100.0), 0.0), *hour)
    assert found.value == pytest.approx(100.0)
    assert found.uncertainty is not None
    assert dict(found.uncertainty.parts)["limits of the channels"] == pytest.approx(2.0)
    assert dict(found.uncertainty.parts)["noise"] == pytest.approx(0.5 / 18_000**0.5)


def test_it_begins_anew_with_each_start_and_stands_still_while_it_coasts_or_rests() -> None:
    first = [(REST, power(0.0), 0.0), (START, power(50.0), 0.0), (RUN, power(50.0), 0.0), (REST, power(7.0), 0.0)]
    resting = after(*first, (REST, power(7.0), 0.0))
    assert resting.value == pytest.approx((50 + 50 + 7) * 0.2 / 3600)  # the window in which it came to rest counts
    assert after(*first, (START, power(36.0), 0.0)).value == pytest.approx(36.0 * 0.2 / 3600)
    off = ("running",) * 10 + COAST[:10]
    turning = [*first[:3], (off, power(20.0), 0.0), (COAST, power(7.0), 0.0), (COAST[:9] + REST[:9], power(7.0), 0.0)]
    stopped = after(*turning, (COAST, power(7.0), 0.0), (REST, power(7.0), 0.0))  # it was turned by hand
    assert stopped.value == pytest.approx((50 + 50 + 20) * 0.2 / 3600)


def test_the_length_of_a_stop_in_doubt_changes_nothing() -> None:
    """An edge that is lost just before rest lets it coast on."""
    begin = [(REST, power(0.0), 0.0), (START, power(50.0), 0.0), (RUN, power(50.0), 0.0), (COAST, power(1e-7), 0.0)]
    assert after(*begin, (REST, power(1e-7), 0.0)) == after(*begin, (UNKNOWN, power(2e-7), 0.0), *begin[-1:] * 3)
    again = after(*begin, (UNKNOWN, power(80.0), 0.0), (RUN, power(50.0), 0.0))
    assert again.value == pytest.approx(150.0 * 0.2 / 3600)
    assert again.reason == "0.2 s since the start were not measured and are not in it"


def test_a_start_from_coasting_begins_it_anew_too() -> None:
    again = ("coasting",) * 5 + ("starting",) * 15
    found = after(
        (REST, power(0.0), 0.0), (START, power(50.0), 0.0), (RUN, power(50.0), 0.0), (again, power(36.0), 0.0)
    )
    assert found.value == pytest.approx(36.0 * 0.2 / 3600)
    first = after((UNKNOWN, power(0.0), 0.0), (("starting",) * 20, power(36.0), 0.0))
    assert first.value == pytest.approx(36.0 * 0.2 / 3600)
    assert first.confidence is Confidence.GOOD


def test_before_a_start_is_seen_there_is_none() -> None:
    assert after((RUN, power(100.0), 0.0)).confidence is Confidence.ABSENT


def test_time_that_was_not_measured_is_told_and_not_made_up() -> None:
    begin = [(REST, power(0.0), 0.0), (START, power(100.0), 0.0)]
    found = after(*begin, (RUN, power(100.0), 3.2), (RUN, absent("active_power_w", "no sample"), 0.0))
    assert found.value == pytest.approx(200.0 * 0.2 / 3600)  # the window with the gap before it was measured
    assert found.reason == "3.4 s since the start were not measured and are not in it"
    assert found.uncertainty is None


def test_a_start_that_may_have_been_earlier_than_it_was_seen_is_doubtful() -> None:
    found = after((REST, power(0.0), 0.0), (UNKNOWN, power(80.0), 0.4), (RUN, power(100.0), 0.0))
    assert found.value == pytest.approx(100.0 * 0.2 / 3600)
    assert found.reason == "0.6 s since the start were not measured and are not in it"
    rest = [(REST, power(0.0), 0.0), (UNKNOWN, power(0.0), 0.4), (REST, power(0.0), 0.0)]
    still = after(*rest, (START, power(9.0), 0.0))
    assert still.value == pytest.approx(9.0 * 0.2 / 3600)
    assert still.reason == ""


def test_a_doubtful_power_makes_the_energy_doubtful_until_the_next_start() -> None:
    begin = [(REST, power(0.0), 0.0), (START, power(100.0), 0.0)]
    doubted = (RUN, doubtful(power(80.0), "clipped at ±5 A"), 0.0)
    found = after(*begin, doubted, (RUN, power(100.0), 0.0))
    assert found.value == pytest.approx(280.0 * 0.2 / 3600)
    assert found.reason == "clipped at ±5 A"
    again = after(*begin, doubted, (REST, power(0.0), 0.0), (START, power(100.0), 0.0))
    assert again.confidence is Confidence.GOOD


def test_a_start_among_lost_frames_may_have_been_earlier_and_makes_the_energy_doubtful_until_the_next() -> None:
    stalled = (("stalled",) * 20, power(100.0), 0.0)
    begin = [(REST, power(0.0), 0.0), (START, power(100.0), 0.0), stalled, stalled]
    run, go = (RUN, power(100.0), 0.0), (("starting",) * 20, power(100.0), 0.0)
    lost = "the stream began or was broken, and perhaps a start was missed there"
    assert after(*begin, stalled, shaken=(4,)).reason == lost, "it may have started anew"
    assert after(*begin, stalled, stalled, shaken=(4,)).reason == ""
    assert after(*begin, stalled, go, run, run, shaken=(4, 5)).reason == lost
    assert after(*begin, stalled, go, run, run, shaken=(4,)).reason == lost
    assert after(*begin, go, run, run, run, shaken=(6,)).reason == "", "it ran before, and no start was told"
    again = after(*begin, go, run, (REST, power(0.0), 0.0), (START, power(36.0), 0.0), shaken=(4, 5))
    assert again.value == pytest.approx(36.0 * 0.2 / 3600)
    assert again.reason == ""


def test_of_a_window_that_came_in_part_that_part_counts() -> None:
    state = Energy((), "running", True)
    _, told = energy_of(state, [power(100.0), Reading("frequency_hz", 50.0)], RUN, Stretch(0.0, 0.2, 0.15))
    assert told[0].value == pytest.approx(100.0 * 0.15 / 3600)
    assert "since the start were not measured" in told[0].reason


def test_what_is_fed_back_is_taken_off_and_a_sensor_that_seems_turned_round_is_told() -> None:
    state = Energy((), "running", True)
    _, told = energy_of(state, [power(-100.0)], RUN, Stretch(0.0, 3600.0, 3600.0), "the current seems turned round")
    assert told[0].value == pytest.approx(-100.0)
    assert told[0].reason == "the current seems turned round"


def test_charge_is_for_direct_current_alone() -> None:
    current = Reading("current_mean_a", 5.0)
    _, told = energy_of(Energy((), "running", True), [current], RUN, Stretch(0.0, 3600.0, 3600.0))
    assert {each.key: each.value for each in told} == {"charge_ah": 5.0}
    _, of_mains = energy_of(
        Energy((), "running", True), [current, Reading("frequency_hz", 50.0)], RUN, Stretch(0.0, 1.0, 1.0)
    )
    assert of_mains == []
