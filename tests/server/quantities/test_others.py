"""Channels that are neither voltage nor current, and single samples of uneven channels."""

import numpy as np
import pytest

from firmware_protocol import Role
from server.quantities import slow_reading
from server.readings import Confidence, Reading
from server.samples import Channel, SlowSample
from tests.server.quantities.windows import current, read, window


def channel(role: Role, unit: str) -> Channel:
    return Channel(0, role, "name", "place", unit, -1000.0, 1000.0)


@pytest.mark.parametrize(
    ("role", "unit", "value", "key", "shown"),
    [
        (Role.TEMPERATURE, "°C", 41.5, "temperature_c", 41.5),
        (Role.TEMPERATURE, "K", 300.0, "temperature_c", 26.85),
        (Role.SPEED, "rad/s", 100.0, "tacho_speed_rpm", 954.93),
        (Role.SPEED, "r/min", 1420.0, "tacho_speed_rpm", 1420.0),
        (Role.POSITION, "rad", 3.14159265, "position_deg", 180.0),
        (Role.VOLTAGE, "V", 12.1, "voltage_v", 12.1),
        (Role.CURRENT, "A", 0.3, "current_a", 0.3),
        (Role.COMMAND, "", 0.7, "command", 0.7),
        (Role.OTHER, "bar", 3.2, "other", 3.2),
    ],
)
def test_a_single_sample_is_a_reading_in_the_catalogues_unit(
    role: Role, unit: str, value: float, key: str, shown: float
) -> None:
    reading = slow_reading(SlowSample(channel(role, unit), 7, 100, value, False))
    assert reading.id == f"{key}.place"
    assert reading.value == pytest.approx(shown, rel=1e-4)
    assert reading.confidence is Confidence.GOOD


def test_a_clipped_single_sample_is_doubtful() -> None:
    reading = slow_reading(SlowSample(channel(Role.CURRENT, "A"), 7, 100, 1000.0, True))
    assert reading.confidence is Confidence.DOUBTFUL


def test_an_even_channel_of_another_kind_gives_its_mean() -> None:
    rows = [np.sin(np.arange(4000)), np.linspace(20.0, 21.0, 4000)]
    found = read(window([current(), channel(Role.TEMPERATURE, "°C")], rows))
    assert found["temperature_c.place"].value == pytest.approx(20.5)
    alone = read(window([channel(Role.TEMPERATURE, "°C")], rows[1:], missing=slice(0, 1000)))
    assert set(alone) == {"temperature_c.place"}
    assert alone["temperature_c.place"].reason == "1000 of 4000 samples missing"
    nothing = read(window([channel(Role.TEMPERATURE, "°C")], rows[1:], missing=slice(0, 4000)))
    assert nothing["temperature_c.place"] == Reading(
        "temperature_c", None, Confidence.ABSENT, "no sample of this window came", "place"
    )
