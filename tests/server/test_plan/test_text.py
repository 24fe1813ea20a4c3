"""A plan's text: read back as it was written, and refused with line and way out."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.config import ConfigError
from server.test_plan.plan import Ends, Most, Plan
from server.test_plan.text import parse_plan, tables_of, text_of

WHOLE = """\
[test]
specimen = "cabin ventilator, new bearing"
serial = "HV-0042"
goal_hours = 500
goal_cycles = 10000
heat_run = "temperature_c.housing"
begins = "2026-11-25T20:00:00Z"
ambient_c = 22.0

[duty]
on_s = 60.0
off_s = 240.0
type = "S3"

[readings.current_rms_a]
high = 0.8

[readings."temperature_c.housing"]
high = 90.0
state = "any"

[cycles.starting_time_s]
high = 0.8

[events.stalled]
most = 2

[verdicts.phase_open]
"""


def test_a_plan_is_read_as_it_stands() -> None:
    plan = parse_plan(WHOLE, "bench.toml").plan
    assert (plan.specimen, plan.goal_hours, plan.goal_cycles) == ("cabin ventilator, new bearing", 500.0, 10_000)
    assert plan.begins == 1_795_636_800.0  # 2026-11-25 20:00 UTC, by `date -d`
    assert plan.readings == (
        Ends("current_rms_a", None, 0.8, "running"),
        Ends("temperature_c.housing", None, 90.0, "any"),
    )
    assert (plan.cycles, plan.events) == ((Ends("starting_time_s", None, 0.8),), (Most("stalled", 2),))
    assert (plan.verdicts, plan.duty_type) == ((Most("phase_open", 0),), "S3")


def test_the_tables_of_a_plan_make_the_same_plan() -> None:
    plan = parse_plan(WHOLE, "").plan
    assert parse_plan(text_of(tables_of(plan)), "").plan == plan
    early = replace(plan, begins=-62_135_596_800.0)  # the first moment of the year 1, by `date -d`
    assert tables_of(early)["test"]["begins"] == "0001-01-01T00:00:00Z"
    assert parse_plan(text_of(tables_of(early)), "").plan == early


@pytest.mark.parametrize(
    ("text", "line", "what", "instead"),
    [
        ('[test]\nspecimen = "x"', 1, "it has no goal", "write goal_hours, goal_cycles or heat_run"),
        ("[test]\ngoal_hours = 1", 1, "it is not said what is tested", "specimen"),
        ('[test]\nspecimen = "x"\ngoal_hours = 0', 3, "goal_hours = 0: this is not possible", "from 0.001"),
        ('[test]\nspecimen = "x"\ngoal_hour = 5', 3, '"goal_hour" is not a key of [test]', "write goal_hours"),
        ('[test]\nspecimen = "x\\u001b"\ngoal_hours = 5', 2, "U+001B", "plain text"),
        ('[test]\nspecimen = "x"\nbegins = "2026-02-30T00:00:00Z"\ngoal_hours=1', 3, "no calendar has", "a day"),
        ('[test]\nspecimen = "x"\nbegins = "tonight"\ngoal_hours=1', 3, "cannot be read", "2026-11-25T20"),
        ("G[readings.current_rms_a]\nlow = 3\nhigh = 1", 5, "low = 3 is not below high = 1", "the smaller one"),
        ("G[readings.current_rms_a]", 4, "has no limit", "write low, high or both"),
        ("G[readings.curent_rms_a]\nhigh = 1", 4, 'there is no reading "curent_rms_a"', "write current_rms_a"),
        ("G[readings.run_state]\nhigh = 1", 4, "can have no limit", "set limits of a number"),
        ("G[cycles.start_time_s]\nhigh = 1", 4, 'no figure of a cycle "start_time_s"', "write starting_time_s"),
        ("G[events.stall]\nmost = 1", 4, 'no kind of event "stall"', "write stalled"),
        ("G[events.stalled]\nmost = -1", 5, "most = -1: this is not possible", "0 to"),
        ("G[events.power_on]\nmost = 10", 4, "power_on comes with each cycle", "leave it out"),
        ("G[duty]\non_s = 60", 5, "on for a time and off for a time", "write both"),
        ('G[duty]\non_s = 60\noff_s = 60\ntype = "S1"', 7, "S1 is continuous", "leave out"),
        (
            "G[duty]\non_s = 60\noff_s = 60\n[cycles.on_time_s]\nhigh = 50",
            7,
            "limits of on_time_s would fail it",
            "lie",
        ),
        ("G[duty]\non_s = 60\noff_s = 60\n[cycles.on_time_s]\nhigh = 0", 7, "would fail it", "lie"),
        ("G[duty]\non_s = 60\noff_s = 60\n[cycles.on_time_s]\nlow = 61", 7, "would fail it", "lie"),
        ('G[readings."current_rms_a."]\nhigh = 1', 4, "there are 0 characters", "leave out the dot"),
        (f'G[readings."current_rms_a.{"x" * 256}"]\nhigh = 1', 4, "there are 256 characters", "at most 255"),
        ('[test]\nspecimen = "x"\nbegins = "202\u0666-02-20T00:00:00Z"\ngoal_hours=1', 3, "cannot be read", "2026"),
        ('G[duty]\ntype = "S9"', 5, "there is no such value", '"S1" or "S2"'),
    ],
)
def test_what_cannot_be_is_refused_with_its_line(text: str, line: int, what: str, instead: str) -> None:
    text = text.replace("G", '[test]\nspecimen = "x"\ngoal_cycles = 100\n') if text.startswith("G") else text
    with pytest.raises(ConfigError) as refused:
        parse_plan(text, "bench.toml")
    assert str(refused.value).startswith(f"bench.toml, line {line}: ")
    assert what in refused.value.what
    assert instead in refused.value.instead


@settings(max_examples=60)
@given(st.text(max_size=300))
def test_any_text_is_a_plan_or_refused(text: str) -> None:
    refusal = ""
    try:
        assert parse_plan(text, "f").text == text
    except ConfigError as error:
        refusal = str(error)
    assert "\n" not in refusal


@given(st.text(min_size=1, max_size=30), st.text(min_size=1, max_size=30))
def test_names_of_any_characters_are_kept_or_refused(specimen: str, reading: str) -> None:
    readings = {f"current_rms_a.{reading}": {"high": 1.0}}
    tables = {"test": {"specimen": specimen, "goal_hours": 1.0}, "readings": readings}
    refusal, plan = "", None
    try:
        plan = parse_plan(text_of(tables), "").plan
    except ConfigError as error:
        refusal = str(error)
    assert "\n" not in refusal
    ends = Ends(f"current_rms_a.{reading}", None, 1.0, "running")
    assert plan in (None, Plan(specimen, goal_hours=1.0, readings=(ends,)))
