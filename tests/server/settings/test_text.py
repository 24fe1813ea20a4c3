"""Settings as text: what is read, what is refused and in which words, and that writing and reading agree."""

import time
import tomllib
from dataclasses import asdict, fields

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.config import (
    SPEED_UNITS,
    AlarmSettings,
    Calling,
    ChannelSettings,
    ConfigError,
    Limit,
    MotorSettings,
    Plate,
    RigSettings,
    Space,
    Wires,
)
from server.settings.tables import TEXT_MAX
from server.settings.text import parse_motor, parse_rig, rig_text

WHOLE = """\
# written by hand
[rig]
name = "bench"
port = "/dev/ttyACM0"
baud = 921600
stopped_rpm = 4
start_time_limit_s = 2.5
rest_closes_run_s = 60

[motor]
name = "cabin ventilator"
type = "permanent_split_capacitor"

[motor.plate]
voltage_v = 230
pole_pairs = 2
"""


def refusal(text: str) -> str:
    with pytest.raises(ConfigError) as caught:
        parse_rig(text, "bench.toml", "bench")
    return str(caught.value)


def test_a_whole_file_is_read_with_the_line_of_every_key() -> None:
    read = parse_rig(WHOLE, "bench.toml", "bench")
    motor = MotorSettings("cabin ventilator", "permanent_split_capacitor", Plate(voltage_v=230.0, pole_pairs=2))
    assert read.settings == RigSettings("bench", "/dev/ttyACM0", 921600, motor, 4.0, 2.5, 60.0)
    lines = WHOLE.split("\n")
    assert lines[read.lines["motor.plate.pole_pairs"] - 1] == "pole_pairs = 2"


def test_an_empty_file_is_a_rig_with_nothing_said() -> None:
    assert parse_rig("", "bench.toml", "bench").settings == RigSettings("bench")


WHOLE_NUMBER = "this is not a whole number; write a whole number without quotes or unit, such as"


@pytest.mark.parametrize(
    ("text", "line", "sentence"),
    [
        ("[rig]\nboud = 3", 2, '"boud" is not a key of [rig]; write baud.'),
        ("[rgi]\n", 1, '"rgi" is not a key; write rig.'),
        ("[motor]\nspeed_rpm = 3", 2, '"speed_rpm" is not a key of [motor]; move it below [motor.plate].'),
        (
            '[motor.plate]\nvoltage_v = "230 V"',
            2,
            'voltage_v = "230 V": this is not a number; write a number without quotes or unit, such as 230.',
        ),
        ("[motor.plate]\n\npole_pairs = 2.5", 3, f"pole_pairs = 2.5: {WHOLE_NUMBER} 2."),
        ("[rig]\nbaud = true", 2, f"baud = true: {WHOLE_NUMBER} 2000000."),
        (
            "[motor.plate]\ncurrent_a = -1",
            2,
            "current_a = -1: this is not possible; write a number from 0.001 to 100000, such as 0.55.",
        ),
        ("[motor.plate]\nhall_spacing_deg = 90", 2, "hall_spacing_deg = 90: there is no such value; write 60 or 120."),
        ("[motor]\ntype = 3", 2, 'type = 3: this is not text; write it in quotes: "3".'),
        ("rig = 3", 1, "rig is a value; write [rig] and its keys below it."),
        ("motor = 3", 1, "motor is a value; write [motor] and its keys below it."),
        (
            '[rig]\nname = "other"',
            2,
            'the rig is called "other" in a file named for "bench"; write name = "bench" or name the file other.toml.',
        ),
        ('[wires]\nhall_a = "blue"\nhall_d = "red"', 3, '"hall_d" is not a key of [wires]; write hall_c.'),
        ('[space]\nthin_raw = "yes"', 2, 'thin_raw = "yes": there is no such value; write "agreed".'),
        (
            '[space]\nthin_raw = "agreed"\naround_s = 0',
            3,
            "around_s = 0: this is not possible; write a number from 5 to 3600, such as 30.",
        ),
        (
            f'[wires]\nlead_u = "{41 * "r"}"',
            2,
            f'lead_u = "{36 * "r"}...: these are 41 characters; write at most 40.',
        ),
        ('[rig]\nspeed_unit = "rps"', 2, 'speed_unit = "rps": there is no such value; write "r/min" or "rad/s".'),
        ("channels = 3", 1, "channels is a value; write [channels] and its keys below it."),
        (
            '[channels.U]\nplace = "L1"\nrole = "volts"',
            3,
            'role = "volts": there is no such value; write "voltage" or "current" or "temperature" or "speed" or '
            '"position" or "command" or "other".',
        ),
        ('[channels.U]\nrole = "voltage"\nplaec = "L1"', 3, '"plaec" is not a key of [channels.U]; write place.'),
        ("[channels]\nU = 3", 2, "channels.U is a value; write [channels.U] and its keys below it."),
        ("[limits.current_rms_a]\n", 1, "limits.current_rms_a has no limit; write low, high or both below it."),
        (
            "[limits]\ncurrent_rms_a = { low = 3, high = 2 }",
            2,
            "low = 3 is not below high = 2; write the smaller one as low.",
        ),
        (
            '[motor]\nname = "fan\\nrunning"',
            2,
            'name = "fan\\u000arunning": the character U+000A cannot be shown in a line; write plain text in one line.',
        ),
        (
            '[channels."I\\u001b[2J"]\nplace = "line"',
            1,
            '"I\\u001b[2J": the character U+001B cannot be shown in a line; write plain text in one line.',
        ),
        ('[alarms." "]\nact = "Look"', 1, '" " is no name; write one.'),
        (
            "[limits.current_rms_a]\nhigh = inf",
            2,
            "high = inf: this is not possible; write a number from -1e+12 to 1e+12, such as 3.0.",
        ),
    ],
)
def test_a_refusal_names_the_file_the_line_what_is_wrong_and_what_to_write(text: str, line: int, sentence: str) -> None:
    assert refusal(text) == f"bench.toml, line {line}: {sentence}"


@pytest.mark.parametrize("value", ["nan", "inf", "-inf", "0", "1e300"])
def test_impossible_numbers_are_refused(value: str) -> None:
    assert "line 2: stopped_rpm" in refusal(f"[rig]\nstopped_rpm = {value}")


@pytest.mark.parametrize(
    ("text", "line"),
    [("[rig]\nname = bench", 2), ("[rig\n", 1), ("[rig]\nbaud = 3\nbaud = 4\n", 3), ('\n\na = """x\n', 4)],
)
def test_what_is_not_toml_is_refused_with_its_line(text: str, line: int) -> None:
    assert refusal(text).startswith(f"bench.toml, line {line}: this is not TOML (")


def test_an_endless_file_is_refused() -> None:
    assert "too many" in refusal("#" * (TEXT_MAX + 1))


@pytest.mark.parametrize(
    "text",
    [
        "x = " + "[" * 5000,
        "x = " + "{a=" * 5000,
        "[rig]\nbaud = " + "9" * 6000,
        "[rig]\nbaud = 0x" + "f" * 60_000,
        "[rig]\nname = 0x" + "f" * 60_000,
        "[rig]\nname = [" + "[" * 300 + "]" * 301,
        "[rig]\nport" + ".a" * 31_000 + " = 1",
        "[rig]\nport" + ".a" * 190 + " = 1",
        "[rig]\n" + "b" * 60_000 + " = 1",
        "'''\n" * 10_000,
        "x = '''\n[a" + " " * 60_000 + "\n'''\n",
    ],
    ids=lambda text: text[:20],
)
def test_text_made_to_break_the_reading_is_refused_at_once_in_one_short_sentence(text: str) -> None:
    begin = time.monotonic()
    for parse in (lambda: parse_rig(text, "bench.toml", "bench"), lambda: parse_motor(text, "the board")):
        with pytest.raises(ConfigError) as caught:
            parse()
        assert len(str(caught.value)) < 300
    assert time.monotonic() - begin < 2


def test_a_board_may_speak_of_its_motor_only() -> None:
    assert parse_motor('[motor]\nname = "x"\n[motor.plate]\ncurrent_a = 2', "the board").plate.current_a == 2.0
    with pytest.raises(ConfigError, match='the board, line 1: "rig" is not a key'):
        parse_motor("[rig]\nport = 'x'", "the board")


PLAIN = st.characters(exclude_categories=("Cc", "Zl", "Zp", "Cf", "Cs"), include_characters="\u200c\u200d")
TEXT = st.text(PLAIN, max_size=30)
PLATES = st.builds(
    Plate,
    voltage_v=st.none() | st.floats(0.1, 100_000),
    speed_rpm=st.none() | st.floats(0.1, 1e6),
    pole_pairs=st.none() | st.integers(1, 200),
    hall_spacing_deg=st.sampled_from([60, 120]),
)
CHANNELS = st.builds(ChannelSettings, TEXT, st.sampled_from(["", "voltage", "other"]), TEXT).filter(
    lambda each: each.role or each.place
)
LIMITS = st.builds(Limit, TEXT, st.none() | st.floats(-1e12, -1), st.none() | st.floats(1, 1e12)).filter(
    lambda each: each.low is not None or each.high is not None
)
ALARMS = st.builds(
    AlarmSettings,
    TEXT.filter(lambda name: bool(name.strip())),
    rank=st.sampled_from(["", "alarm", "caution", "off"]),
    act=TEXT,
    high=st.none() | st.floats(-1e12, 1e12),
    state=st.sampled_from(["", "running"]),
    event=TEXT,
    trip_class=st.sampled_from(["", "10A"]),
)
RIGS = st.builds(
    RigSettings,
    name=st.just("bench"),
    port=TEXT,
    baud=st.integers(300, 50_000_000),
    motor=st.none() | st.builds(MotorSettings, name=TEXT, type=TEXT, plate=PLATES),
    stopped_rpm=st.floats(0.01, 10_000),
    speed_unit=st.sampled_from(SPEED_UNITS),
    channels=st.lists(CHANNELS, max_size=3, unique_by=lambda each: each.channel).map(tuple),
    limits=st.lists(LIMITS, max_size=3, unique_by=lambda each: each.reading).map(tuple),
    wires=st.builds(Wires, hall_a=TEXT, lead_w=TEXT),
    alarms=st.lists(ALARMS, max_size=3, unique_by=lambda each: each.name).map(tuple),
    calling=st.builds(Calling, alarm=TEXT, quiet_from=st.sampled_from(["", "22:00"])),
    space=st.builds(Space, st.sampled_from(["", "agreed"]), st.floats(5, 3600), st.floats(5, 3600)),
)


@given(RIGS)
def test_what_is_written_is_read_back_the_same(settings: RigSettings) -> None:
    assert parse_rig(rig_text(settings), "bench.toml", "bench").settings == settings


@given(RIGS)
def test_what_is_written_means_the_same_to_the_standard_librarys_parser(settings: RigSettings) -> None:
    table = tomllib.loads(rig_text(settings))
    own = ("motor", "channels", "limits", "wires", "alarms", "calling", "space")
    plain = (field.name for field in fields(settings) if field.name not in own)
    assert table["rig"] == {name: getattr(settings, name) for name in plain}
    for channel in settings.channels:
        assert table["channels"][channel.channel].get("place", "") == channel.place
    for limit in settings.limits:
        assert table["limits"][limit.reading].get("high") == limit.high
    for alarm in settings.alarms:
        assert table["alarms"][alarm.name].get("act", "") == alarm.act
    if settings.motor is not None:
        assert table["motor"]["name"] == settings.motor.name
        assert table["motor"]["plate"] == {k: v for k, v in asdict(settings.motor.plate).items() if v is not None}
