"""Settings over HTTP: what is left out stays, null is the usual value, a refusal says which setting it is about."""

from typing import Any

import pytest

from server.config import ChannelSettings, Limit, MotorSettings, RigSettings
from server.motors import MOTOR_TYPES
from tests.server.web.bench import BenchRig, Service
from tests.server.web.test_api import changed, got

MOTOR = MotorSettings("pump")
CHANNELS = (ChannelSettings("I1", "current", "L1"),)
LIMITS = (Limit("current_rms_a", high=3.0),)
BEFORE = RigSettings("heron-1", "/dev/x", 600, MOTOR, 4.0, speed_unit="rad/s", channels=CHANNELS, limits=LIMITS)


@pytest.fixture
def rig(service: Service) -> BenchRig:
    service.rigs.rigs = {name: BenchRig(name) for name in ("heron-1", "heron-2")}
    service.rigs.rigs["heron-1"].settings = BEFORE
    return service.rigs.rigs["heron-1"]


def test_what_is_left_out_stays(service: Service, rig: BenchRig) -> None:
    assert changed(service, "PUT", "/api/rigs/heron-1", {"baud": 1200}) == (200, {"rig": "heron-1"})
    assert rig.settings == RigSettings(
        "heron-1", "/dev/x", 1200, MOTOR, 4.0, speed_unit="rad/s", channels=CHANNELS, limits=LIMITS
    )
    assert service.rigs.looked_at[-1] == "heron-1"  # what a person has just written into the file stays too


def test_null_is_what_holds_where_nothing_is_said(service: Service, rig: BenchRig) -> None:
    nothing = dict.fromkeys(("baud", "motor", "stopped_rpm", "speed_unit", "channels", "limits"))
    assert changed(service, "PUT", "/api/rigs/heron-1", nothing)[0] == 200
    assert rig.settings == RigSettings("heron-1", "/dev/x")


def test_channels_and_limits_come_as_they_are_told(service: Service, rig: BenchRig) -> None:
    told = got(service, "/api/rigs/heron-1")["settings"]
    assert told["channels"] == {"I1": {"role": "current", "place": "L1"}}
    assert told["limits"] == {"current_rms_a": {"low": None, "high": 3.0}}
    rig.settings = RigSettings("heron-1")
    assert changed(service, "PUT", "/api/rigs/heron-1", {key: told[key] for key in ("channels", "limits")})[0] == 200
    assert (rig.settings.channels, rig.settings.limits) == (CHANNELS, LIMITS)


def test_the_last_change_is_undone(service: Service, rig: BenchRig) -> None:
    changed(service, "PUT", "/api/rigs/heron-1", {"baud": 1200})
    assert changed(service, "POST", "/api/rigs/heron-1/undo", {}) == (200, {"rig": "heron-1"})
    assert rig.settings == BEFORE
    assert changed(service, "POST", "/api/rigs/nobody/undo", {})[0] == 404


@pytest.mark.parametrize(
    ("body", "key", "sentence"),
    [
        ({"stopped_rpm": -1}, "rig.stopped_rpm", "stopped_rpm = -1: this is not possible; write 5.0."),
        (
            {"motor": {"plate": {"speed_rpm": "fast"}}},
            "motor.plate.speed_rpm",
            "motor.plate.speed_rpm: this is not a number; write it without a unit.",
        ),
        ({"baud": 1.5}, "baud", "baud: this is not a whole number; write it without a unit."),
    ],
)
def test_a_refusal_says_which_setting_it_is_about(
    service: Service, rig: BenchRig, body: dict[str, Any], key: str, sentence: str
) -> None:
    assert changed(service, "PUT", "/api/rigs/heron-1", body) == (422, {"detail": sentence, "key": key})
    assert rig.settings == BEFORE


def test_the_types_of_motors_are_told(service: Service) -> None:
    types = {each["type"]: each["supply"] for each in got(service, "/api/motor-types")}
    assert types == {each.key: each.supply for each in MOTOR_TYPES}
