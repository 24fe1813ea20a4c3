import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firmware_protocol import Role
from server.config import Plate
from server.live.records import Shown
from server.live.view import View
from server.live.window import ZOOMS
from server.pipeline import Output
from server.readings import Reading, absent, doubtful
from tests.server.live.blocks import Sync, block, channel, described, sines
from tests.server.live.test_hall_ring import turning
from tests.server.live.views import ZERO, instant, seen, ventilator


@pytest.mark.parametrize(("frequency_hz", "seconds"), [(50.0, 1.0), (50.0, 0.987), (59.7, 0.9), (16.7, 1.0)])
def test_three_cycles_begin_at_a_rising_zero_of_the_voltage(frequency_hz: float, seconds: float) -> None:
    trace = seen(ventilator(seconds, frequency_hz=frequency_hz), seconds)["trace"]
    start_s = trace["start_utc_s"] - ZERO
    assert trace["held_at"] == "rising zero of the voltage"
    assert trace["cycles"] == 3
    assert trace["span_s"] == pytest.approx(3 / frequency_hz)
    assert (start_s * frequency_hz + 0.5) % 1 - 0.5 == pytest.approx(0, abs=1e-3)
    assert seconds - 4.01 / frequency_hz <= start_s <= seconds - 3 / frequency_hz + 1e-6  # what a UTC float holds
    voltage = trace["lines"][0]
    assert voltage["peak"] == pytest.approx([-325, 325], rel=1e-3)
    assert abs(voltage["low"][0]) < 6  # a sample at 20 kS/s is at most 5.1 V from the zero
    assert not np.isnan(voltage["low"]).any()


def test_the_picture_stands_still_while_the_wave_goes_on() -> None:
    view, pictures = ventilator(1.0), []
    for k in range(30):
        at = 20_000 + 131 * k
        view.take(Output(samples=(block(sines(131 / 20_000, start_s=at / 20_000), at),)), Sync())
        pictures.append(seen(view)["trace"]["lines"][0]["high"])
    np.testing.assert_allclose(pictures, np.broadcast_to(pictures[0], (30, 600)), atol=11)  # two samples apart at most


def test_phase_and_power_are_those_of_the_wave() -> None:
    trace = seen(ventilator(lag_deg=30.0))["trace"]
    assert trace["zero_voltage_s"] == pytest.approx(0.02)
    assert trace["zero_current_s"] == pytest.approx(0.02 + 0.02 * 30 / 360)
    # u i = (UI/2)(cos 30 - cos(2wt - 30)): mean (325/2) cos 30; its negative part over its positive one by quadrature
    assert trace["power"]["mean"] == pytest.approx(162.5 * math.cos(math.radians(30)), rel=0.01)
    x = np.linspace(0, np.pi, 200_001)
    product = np.sin(x) * np.sin(x - np.pi / 6)
    back = -product[product < 0].sum() / product[product > 0].sum()
    assert trace["power"]["back_percent"] == pytest.approx(100 * back, rel=0.02)


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 2**31), st.integers(20, 900))
def test_a_picture_of_n_columns_holds_the_extremes_of_its_samples(seed: int, columns: int) -> None:
    values = np.random.default_rng(seed).normal(0, 1, (2, 3000))
    view = View("heron-1")
    view.take(Output(described=described(), samples=(block(values),)), Sync())
    trace = seen(view, columns=columns)["trace"]
    shown = values[:, 3000 - round(trace["span_s"] * 20_000) :].astype(np.float32)
    for line, samples in zip(trace["lines"], shown, strict=True):
        assert line["low"].size == line["high"].size == trace["columns"] == columns
        assert (np.nanmin(line["low"]), np.nanmax(line["high"])) == (samples.min(), samples.max())


def test_without_a_zero_crossing_the_last_stretch_of_the_same_width_is_shown() -> None:
    view = ventilator(1.0, frequency_hz=60.0)
    width = seen(view)["trace"]["span_s"]
    view.take(Output(samples=(block(np.zeros((2, 20_000)), 20_000),)), Sync())
    trace = seen(view, 2.0)["trace"]
    assert (trace["held_at"], trace["cycles"], trace["span_s"]) == ("", None, width)
    assert trace["start_utc_s"] == pytest.approx(ZERO + 2.0 - width)
    assert trace["zero_voltage_s"] is None


def test_a_doubtful_frequency_does_not_change_the_width() -> None:
    view = ventilator(1.0, frequency_hz=50.0)
    assert seen(view)["trace"]["span_s"] == 0.06
    strange = doubtful(Reading("frequency_hz", 38.6), "the supply went off in this window")
    view.take(Output(instants=(instant(1.0, strange),)), Sync())
    trace = seen(view)["trace"]
    assert (trace["held_at"], trace["span_s"]) == ("rising zero of the voltage", 0.06)
    view.take(Output(instants=(instant(1.2, absent("frequency_hz", "no voltage")),)), Sync())
    assert (seen(view)["trace"]["held_at"], seen(view)["trace"]["span_s"]) == ("", 0.06)


def test_a_gap_is_told_drawn_over_and_crossed_by_no_line() -> None:
    view = ventilator(1.0)
    start_s = seen(view)["trace"]["start_utc_s"] - ZERO
    missing = np.zeros(20_000, dtype=np.bool_)
    first = round((start_s + 0.03) * 20_000)
    missing[first : first + 200] = True
    view = View("heron-1")
    view.take(Output(described=described(), samples=(block(sines(1.0), missing=missing),)), Sync())
    view.take(Output(instants=(instant(1.0, Reading("frequency_hz", 50.0)),)), Sync())
    trace = seen(view)["trace"]
    assert trace["gaps"] == [pytest.approx([0.03, 0.04])]
    inside = slice(302, 398)  # columns of 0.1 ms
    assert np.isnan(trace["lines"][0]["low"][inside]).all()
    assert np.isnan(trace["power"]["low"][inside]).all()
    assert np.isnan(trace["lines"][0]["low"]).sum() <= 100


def test_clipping_is_told_for_the_line_that_clipped_while_it_is_in_the_picture() -> None:
    clipped = np.zeros((2, 20_000), dtype=np.bool_)
    clipped[1, 19_500] = True
    view = View("heron-1")
    view.take(Output(described=described(), samples=(block(sines(1.0), clipped=clipped),)), Sync())
    picture = seen(view)
    assert [line["clipped"] for line in picture["trace"]["lines"]] == [False, True]
    assert [one["clipped"] for one in picture["board"]["channels"]] == [0, 1]
    view.take(Output(samples=(block(sines(1.0, start_s=1.0), 20_000),)), Sync())
    assert [line["clipped"] for line in seen(view)["trace"]["lines"]] == [False, False]


def thruster(rate_hz: float = 20_000.0) -> View:
    places = ((Role.VOLTAGE, "dc link"), (Role.CURRENT, "dc link"), (Role.CURRENT, "U"), (Role.CURRENT, "V"))
    channels = tuple(channel(k, role, place, 50.0, rate_hz) for k, (role, place) in enumerate(places))
    view = View("heron-2")
    view.motor = Shown("tender thruster", "brushless", Plate(pole_pairs=7))
    values = np.random.default_rng(1).normal(0, 1, (4, round(rate_hz)))
    view.take(Output(described=described(halls=True), samples=(block(values, channels=channels),)), Sync())
    return view


def test_a_brushless_motor_shows_its_link_and_phase_currents_for_three_electrical_turns() -> None:
    view = thruster()
    view.take(Output(edges=turning(300.0, 1.0)), Sync())
    trace = seen(view)["trace"]
    assert [(line["role"], line["place"]) for line in trace["lines"]] == [
        ("voltage", "dc link"),
        ("current", "dc link"),
        ("current", "U"),
        ("current", "V"),
        ("current", "W"),
    ]
    assert trace["held_at"] == "Hall A rising"
    assert trace["span_s"] == pytest.approx(3 / 300.0, rel=1e-3)
    assert ((trace["start_utc_s"] - ZERO) * 300.0 + 0.5) % 1 - 0.5 == pytest.approx(0, abs=1e-3)
    assert seen(view)["hall"]["seen"] == [5, 1, 3, 2, 6, 4]


def test_a_brushless_motor_at_rest_shows_the_last_twenty_milliseconds() -> None:
    trace = seen(thruster())["trace"]
    assert (trace["held_at"], trace["span_s"]) == ("", 0.02)


def test_a_brushless_motor_that_was_stalled_leaves_its_last_turns_within_three_of_them() -> None:
    for stood_s, held in ((0.003, "Hall A rising"), (0.02, "")):  # a turn takes 1 / 300 s
        view = thruster()
        view.take(Output(edges=turning(300.0, 1.0 - stood_s)), Sync())
        trace = seen(view)["trace"]
        assert trace["held_at"] == held
    assert trace["span_s"] == 0.02


@pytest.mark.parametrize("cycles", ZOOMS)
def test_as_many_cycles_are_drawn_as_a_viewer_asks_for(cycles: int) -> None:
    trace = seen(ventilator(1.0, lag_deg=30.0), cycles=cycles)["trace"]
    assert (trace["cycles"], trace["held_at"]) == (cycles, "rising zero of the voltage")
    assert trace["span_s"] == pytest.approx(cycles / 50.0)
    assert trace["zero_current_s"] - trace["zero_voltage_s"] == pytest.approx(0.02 * 30 / 360)
    assert 0.0 <= trace["zero_voltage_s"] < trace["zero_current_s"] < trace["span_s"]


def test_more_cycles_than_have_come_are_the_time_that_they_would_take() -> None:
    trace = seen(ventilator(0.3), 0.3, cycles=25)["trace"]
    assert (trace["cycles"], trace["held_at"]) == (None, "")
    assert trace["span_s"] == pytest.approx(0.3)


def test_a_motor_on_direct_current_shows_three_turns_of_its_shaft_on_an_axis_that_stands_still() -> None:
    view = View("heron-3")
    view.motor = Shown("bilge pump", "permanent_magnet_dc", Plate(), "board")
    view.take(Output(described=described(), samples=(block(np.full((2, 20_000), 3.0)),)), Sync())
    spans = []
    for k, rpm in enumerate((3600.0, 3630.0, 3580.0, 3000.0)):
        view.take(Output(instants=(instant(1.0 + k, Reading("speed_rpm", rpm)),)), Sync())
        trace = seen(view)["trace"]
        assert (trace["turns"], trace["cycles"], trace["held_at"]) == (3, None, "")
        spans.append(trace["span_s"])
    assert spans == [pytest.approx(3 * 60 / 3600)] * 3 + [pytest.approx(3 * 60 / 3000)]


def test_without_a_sure_speed_or_so_slow_that_three_turns_are_not_kept_the_stretch_is_short() -> None:
    view = View("heron-3")
    view.motor = Shown("bilge pump", "permanent_magnet_dc", Plate(), "board")
    view.take(Output(described=described(), samples=(block(np.full((2, 20_000), 3.0)),)), Sync())
    for k, speed in enumerate(
        (doubtful(Reading("speed_rpm", 3600.0), "late"), Reading("speed_rpm", 60.0), Reading("speed_rpm", 0.0))
    ):
        view.take(Output(instants=(instant(1.0 + k, speed),)), Sync())
        assert (seen(view)["trace"]["turns"], seen(view)["trace"]["span_s"]) == (None, 0.02)
