"""Fundamentals as arrows: RMS and angle of each row against the first, as they were put into the samples."""

from cmath import exp
from math import pi, radians

import pytest

from server.config import Plate
from server.motors.brushless import BRUSHLESS
from server.motors.permanent_magnet_dc import PERMANENT_MAGNET_DC
from server.motors.permanent_split_capacitor import PERMANENT_SPLIT_CAPACITOR
from server.motors.three_phase_induction import THREE_PHASE_INDUCTION
from server.readings import Reading
from tests.server.quantities.windows import current, number, read, voltage, waves, window
from tests.server.signals.slow import series

TURN = exp(2j * pi / 3)
LINES = ("L1", "L2", "L3")


def three(order: int) -> dict[str, Reading]:
    volts = [230.0 * exp(0.4j) * TURN ** (-order * n) for n in range(3)]
    amps = [3.0 * exp(1j * (0.4 - radians(30.0))) * TURN ** (-order * n) for n in range(3)]
    channels = [*(voltage(line) for line in LINES), *(current(line) for line in LINES)]
    shapes = [series({1: each, 3: 0.05 * each}) for each in (*volts, *amps)]
    return read(window(channels, waves(50.3, *shapes)), THREE_PHASE_INDUCTION, Plate())


@pytest.mark.parametrize(("order", "second"), [(1, -120.0), (-1, 120.0)])
def test_three_phases_stand_where_they_were_put_against_the_first_voltage(order: int, second: float) -> None:
    found = three(order)
    assert number(found, "voltage_angle_deg") == 0.0
    assert number(found, "voltage_angle_deg.L2") == pytest.approx(second, abs=1e-3)
    assert number(found, "voltage_angle_deg.L3") == pytest.approx(-second, abs=1e-3)
    assert number(found, "current_angle_deg") == pytest.approx(-30.0, abs=1e-3)
    assert number(found, "current_angle_deg.L2") == pytest.approx(second - 30.0, abs=1e-3)
    assert number(found, "voltage_fundamental_v") == pytest.approx(230.0, rel=1e-6)
    assert number(found, "current_fundamental_a.L3") == pytest.approx(3.0, rel=1e-6)


def test_the_winding_beside_has_its_own_arrow() -> None:
    amps = [0.5 + 0j, 0.3 * exp(1j * radians(80.0))]
    channels = [voltage(), current(), current("auxiliary")]
    found = read(
        window(channels, waves(50.0, *(series({1: each}) for each in (230.0 + 0j, *amps)))),
        PERMANENT_SPLIT_CAPACITOR,
        Plate(),
    )
    assert number(found, "current_angle_deg.auxiliary") == pytest.approx(80.0, abs=1e-3)
    assert number(found, "phase_angle_deg") == pytest.approx(-number(found, "current_angle_deg"), abs=1e-9)


def test_phase_currents_of_a_bridge_stand_against_the_first_of_them() -> None:
    amps = [5.0 * exp(0.7j) * TURN ** (-n) for n in range(3)]
    channels = [current(phase) for phase in ("U", "V", "W")]
    found = read(window(channels, waves(120.0, *(series({1: each}) for each in amps))), BRUSHLESS, Plate())
    angles = {
        place: found[f"current_angle_deg.{place}"].value for place in "UVW" if f"current_angle_deg.{place}" in found
    }
    assert angles["V"] == pytest.approx(-120.0, abs=1e-2)
    assert angles["W"] == pytest.approx(120.0, abs=1e-2)


def test_what_is_direct_by_its_type_has_no_arrow() -> None:
    found = read(
        window([voltage(), current()], waves(50.0, lambda t: 12.0 + 0 * t, lambda t: 3.0 + 0 * t)),
        PERMANENT_MAGNET_DC,
        Plate(),
    )
    assert not [key for key in found if "angle" in key or "fundamental_" in key]


def test_an_arrow_too_short_to_tell_has_no_angle_and_says_why() -> None:
    shapes = (series({1: 230.0 + 0j}), series({1: 1e-4 + 0j}))
    found = read(window([voltage(), current()], waves(50.0, *shapes)), PERMANENT_SPLIT_CAPACITOR, Plate())
    assert found["current_angle_deg"].value is None
    assert "the ratio means nothing" in found["current_angle_deg"].reason
