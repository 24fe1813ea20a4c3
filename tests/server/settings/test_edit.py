"""A file that is changed keeps what a person wrote beside the values, and always says what was set."""

import tomllib
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.config import ChannelSettings, Limit, MotorSettings, Plate, RigSettings, Wires
from server.settings.edit import edited
from server.settings.text import parse_rig, rig_text
from tests.server.settings.test_text import RIGS

WRITTEN = """\
# The bench by the window.
[rig]
port = "/dev/ttyACM0"  # the left socket
baud = 921600

[motor]
name = "old # pump"

# from the plate, half of it is rust
[motor.plate]
voltage_v = 230 # measured too
speed_rpm = 1380
"""
NOW = parse_rig(WRITTEN, "", "bench").settings
MOTOR = MotorSettings("old # pump", "", Plate(voltage_v=230.0, speed_rpm=1380.0))


def changed(**values: Any) -> str:
    return edited(WRITTEN, "bench", replace(NOW, **values))


def test_what_is_the_same_stays_to_the_letter() -> None:
    assert NOW.motor == MOTOR
    assert changed() == WRITTEN


@pytest.mark.parametrize(
    ("values", "before", "after"),
    [
        ({"baud": 115200}, "baud = 921600", "baud = 115200"),
        ({"port": 'a"#b'}, '"/dev/ttyACM0"  # the left socket', '"a\\"#b"  # the left socket'),
        ({"stopped_rpm": 4.0}, "baud = 921600\n", "baud = 921600\nstopped_rpm = 4.0\n"),
        ({"motor": replace(MOTOR, name="pump")}, '"old # pump"', '"pump"'),
        ({"motor": replace(MOTOR, type="servo")}, '"old # pump"\n', '"old # pump"\ntype = "servo"\n'),
        ({"motor": replace(MOTOR, plate=replace(MOTOR.plate, voltage_v=110.0))}, "= 230 #", "= 110.0 #"),
        ({"motor": replace(MOTOR, plate=replace(MOTOR.plate, speed_rpm=None))}, "speed_rpm = 1380\n", ""),
        ({"name": "pump"}, "baud = 921600\n", 'baud = 921600\nname = "pump"\n'),
    ],
)
def test_one_value_is_changed_where_it_stands(values: dict[str, object], before: str, after: str) -> None:
    assert before in WRITTEN
    assert changed(**values) == WRITTEN.replace(before, after)


def test_channels_and_limits_come_behind_and_go_again() -> None:
    said = (ChannelSettings("I motor", "current", "L1"), ChannelSettings("2", place="L2"))
    text = changed(channels=said, limits=(Limit("current_rms_a.L1", high=3.0),))
    assert text.startswith(WRITTEN)
    assert text[len(WRITTEN) :].split("\n") == [
        *("", '[channels."I motor"]', 'role = "current"', 'place = "L1"'),
        *("", "[channels.2]", 'place = "L2"'),
        *("", '[limits."current_rms_a.L1"]', "high = 3.0", ""),
    ]
    assert edited(text, "bench", NOW).rstrip("\n") == WRITTEN.rstrip("\n")


def test_names_of_wires_come_behind_are_changed_in_their_lines_and_go_again() -> None:
    named = changed(wires=Wires(hall_a="blue", lead_w="red"))
    assert named == WRITTEN + '\n[wires]\nhall_a = "blue"\nlead_w = "red"\n'
    text = named.replace('"blue"\n', '"blue" # tape\n')
    with_names = parse_rig(text, "", "bench").settings
    moved = edited(text, "bench", replace(with_names, wires=Wires(hall_a="green", hall_b="blue", lead_w="red")))
    assert moved == WRITTEN + '\n[wires]\nhall_a = "green" # tape\nlead_w = "red"\nhall_b = "blue"\n'
    assert edited(moved, "bench", NOW) == WRITTEN


def test_a_motor_that_is_taken_away_leaves_the_comments_of_its_lines_that_stand_alone() -> None:
    text = changed(motor=None)
    assert parse_rig(text, "", "bench").settings == replace(NOW, motor=None)
    assert "half of it is rust" in text


@pytest.mark.parametrize(
    "text",
    [
        '[rig]\nport = """\n/dev/x"""\nbaud = 300\n',
        "rig = { baud = 300, port = 'x' }\nmotor.plate.speed_rpm = 2\n",
        "this is not TOML",
        "",
        "# nothing yet\n",
    ],
)
def test_what_cannot_be_changed_in_its_place_is_written_anew(text: str) -> None:
    wanted = RigSettings("bench", port="/dev/y", baud=600, motor=MOTOR)
    assert parse_rig(edited(text, "bench", wanted), "", "bench").settings == wanted


@given(RIGS, RIGS, st.booleans())
def test_whatever_stood_there_the_file_says_what_was_set(before: RigSettings, after: RigSettings, bare: bool) -> None:
    text = rig_text(before).replace("\n\n", "\n") if bare else rig_text(before)
    became = edited(text, "bench", after)
    tomllib.loads(became)
    assert parse_rig(became, "", "bench").settings == after
