"""TOML text <-> a test plan. Pure; opens no file. Every refusal names file, line, what is wrong and what to write."""

from collections.abc import Iterable, Mapping
from datetime import UTC, datetime
from difflib import get_close_matches
from typing import Any

from server.alarms.known import EVENT_KINDS, VERDICT_KEYS
from server.config import ConfigError
from server.duty.cycle import KEYS
from server.quantities import NO_LIMITS, QUANTITIES
from server.settings.rules import LIMIT, Number, Rules, Text, short, shown
from server.settings.tables import Source, header_part, key_line, read_tables, toml
from server.test_plan.plan import Ends, Most, Plan, PlanText

_NAME_MAX = 120
_PLACE_MAX = 255  # characters: as many as the wire has bytes for a text
_TIME = "%Y-%m-%dT%H:%M:%SZ"
TEST: Rules = {
    "specimen": Text(longest=_NAME_MAX),
    "serial": Text(longest=_NAME_MAX),
    "goal_hours": Number(0.001, 1e6, "500.0"),
    "goal_cycles": Number(1, 1_000_000_000, "10000", whole=True),
    "heat_run": Text(),
    "begins": Text(
        pattern="[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}Z", example='"2026-11-25T20:00:00Z", in UTC'
    ),
    "unknown_percent": Number(0, 100, "1.0"),
    "ambient": Text(),
    "ambient_c": Number(-60, 150, "22.0"),
}
DUTY: Rules = {
    "on_s": Number(0.1, 1e7, "60.0"),
    "off_s": Number(0.1, 1e7, "240.0"),
    "tolerance_percent": Number(0.1, 100, "5.0"),
    "type": Text(("S1", "S2", "S3", "S4", "S5")),
}
READING: Rules = {**LIMIT, "state": Text(("running", "any"))}
MOST: Rules = {"most": Number(0, 1_000_000_000, "0", whole=True)}
_HOMES = {"test": TEST, "duty": DUTY}
_TABLES = ("test", "duty", "readings", "cycles", "events", "verdicts")
_OF_EACH_CYCLE = ("power_on", "running", "power_off", "coasting", "stopped")
_GOALS = ("goal_hours", "goal_cycles", "heat_run")


def parse_plan(text: str, file: str) -> PlanText:
    """The plan of a text. Raises ConfigError."""
    source = read_tables(text, file, _HOMES, "goal_cycles = 500 below [test]")
    tables = source.tables
    source.known(tables, _TABLES, "")
    test = source.values(tables.get("test", {}), TEST, "test")
    duty = source.values(tables.get("duty", {}), DUTY, "duty")
    if "begins" in test:
        test["begins"] = _begins(test["begins"], source)
    if "type" in duty:
        duty["duty_type"] = duty.pop("type")
    plan = Plan(
        **{"specimen": "", **test},
        **duty,
        readings=tuple(
            Ends(key, said.get("low"), said.get("high"), said.get("state", "running"))
            for key, said in source.each(tables.get("readings", {}), READING, "readings")
        ),
        cycles=tuple(Ends(key, **said) for key, said in source.each(tables.get("cycles", {}), LIMIT, "cycles")),
        events=tuple(Most(key, **said) for key, said in source.each(tables.get("events", {}), MOST, "events")),
        verdicts=tuple(Most(key, **said) for key, said in source.each(tables.get("verdicts", {}), MOST, "verdicts")),
    )
    _check(plan, source)
    return PlanText(file, plan, text)


def text_of(tables: Mapping[str, Any]) -> str:
    """The text of a plan whose values stand in tables, as of a form; `parse_plan` judges it. None is as if left out.

    Raises ConfigError for a value where a table is meant.
    """
    blocks: list[tuple[str, Any]] = []
    for name, its in tables.items():
        if name in _HOMES or name not in _TABLES or not isinstance(its, Mapping):
            blocks.append((header_part(name), its))
        else:
            blocks += [(f"{header_part(name)}.{header_part(key)}", each) for key, each in its.items()]
    return "\n\n".join(_block(header, its) for header, its in blocks) + "\n"


def _block(header: str, its: Any) -> str:
    if not isinstance(its, Mapping):
        raise ConfigError("", None, f"{header} is a value", "give a table of its keys", header)
    return "\n".join([f"[{header}]", *(_line(key, value) for key, value in its.items() if value is not None)])


def _line(key: str, value: Any) -> str:
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        return f"{header_part(key)} = {toml(shown(value))}"  # refused by its rule, as what it is
    return key_line(header_part(key), value)


def tables_of(plan: Plan) -> dict[str, Any]:
    """The values of a plan in its tables; `text_of` writes them."""
    test = {key: getattr(plan, key) for key in TEST if getattr(plan, key) not in (None, "")}
    if plan.begins is not None:
        begins = datetime.fromtimestamp(plan.begins, UTC)
        test["begins"] = begins.isoformat(timespec="seconds").replace("+00:00", "Z")  # four digits in each year
    duty = {key: value for key in ("on_s", "off_s") if (value := getattr(plan, key)) is not None}
    if duty:
        duty["tolerance_percent"] = plan.tolerance_percent
    if plan.duty_type:
        duty["type"] = plan.duty_type
    tables: dict[str, Any] = {"test": test, "duty": duty}
    for name in ("readings", "cycles"):
        tables[name] = {each.key: _ends(each) for each in getattr(plan, name)}
    for name in ("events", "verdicts"):
        tables[name] = {each.key: {"most": each.most} for each in getattr(plan, name)}
    return tables


def _ends(ends: Ends) -> dict[str, Any]:
    said = {"low": ends.low, "high": ends.high, "state": ends.state or None}
    return {key: value for key, value in said.items() if value is not None}


def _begins(written: str, source: Source) -> float:
    try:
        return datetime.strptime(written, _TIME).replace(tzinfo=UTC).timestamp()
    except ValueError:
        raise source.error("test.begins", f'no calendar has "{written}"', "write a day that there is") from None


def _check(plan: Plan, source: Source) -> None:
    """Raises ConfigError for a plan that nothing can pass, or that asks for what is not measured."""
    if not plan.specimen.strip():
        raise source.error("test.specimen", "it is not said what is tested", 'write specimen = "..." below [test]')
    if not any(getattr(plan, key) for key in _GOALS):
        instead = "write goal_hours, goal_cycles or heat_run below [test]"
        raise source.error("test", "it has no goal, so it would be over at once", instead)
    for key in ("heat_run", "ambient"):
        if reading := getattr(plan, key):
            _check_reading(reading, f"test.{key}", source, "temperature_c")
    if plan.ambient and plan.ambient_c is not None:
        raise source.error("test.ambient_c", "the ambient is said twice", "leave out ambient or ambient_c")
    for ends in plan.readings:
        _check_reading(ends.key, f"readings.{ends.key}", source)
        source.ends(_ends(ends), f"readings.{ends.key}")
    for ends in plan.cycles:
        _check_key(ends.key, KEYS, f"cycles.{ends.key}", "figure of a cycle", source)
        source.ends(_ends(ends), f"cycles.{ends.key}")
    for most in plan.events:
        _check_key(most.key, EVENT_KINDS, f"events.{most.key}", "kind of event", source)
        if most.key in _OF_EACH_CYCLE and plan.goal_cycles is not None and most.most < plan.goal_cycles:
            what = (
                f"{most.key} comes with each cycle, at most {most.most} are allowed and the goal is {plan.goal_cycles}"
            )
            raise source.error(f"events.{most.key}", what, "leave it out, or allow as many as the goal")
    for most in plan.verdicts:
        _check_key(most.key, VERDICT_KEYS, f"verdicts.{most.key}", "verdict", source)
    _check_duty(plan, source)


def _check_duty(plan: Plan, source: Source) -> None:
    if (plan.on_s is None) != (plan.off_s is None):
        said = "on_s" if plan.on_s is not None else "off_s"
        raise source.error(f"duty.{said}", "a duty is on for a time and off for a time", "write both, or neither")
    if plan.duty_type == "S1" and plan.off_s is not None:
        raise source.error(
            "duty.type", "S1 is continuous, and off_s is a rest", "leave out on_s and off_s, or the type"
        )
    for key, expected in (("on_time_s", plan.on_s), ("off_time_s", plan.off_s)):
        ends = next((each for each in plan.cycles if each.key == key), None)
        if ends is None or expected is None:
            continue
        if (ends.low is not None and expected < ends.low) or (ends.high is not None and expected > ends.high):
            what = f"{expected:g} s is expected, and limits of {key} would fail it"
            raise source.error(f"cycles.{key}", what, "let the expected time lie between low and high")


def _check_reading(reading: str, path: str, source: Source, only: str = "") -> None:
    key, dot, place = reading.partition(".")
    if dot and not 1 <= len(place) <= _PLACE_MAX:
        what = f'behind the dot of "{short(reading)}" there are {len(place)} characters'
        raise source.error(path, what, f"write the name of a place, at most {_PLACE_MAX}, or leave out the dot")
    known = [each.key for each in QUANTITIES]
    if only and not key.endswith(only):
        raise source.error(path, f'"{reading[:40]}" is no temperature', f"write the id of one, such as {only}.winding")
    _check_key(key, known, path, "reading", source)
    if key in NO_LIMITS:
        raise source.error(path, f"{key} is {NO_LIMITS[key]} and can have no limit", "set limits of a number")


def _check_key(key: str, known: Iterable[str], path: str, what: str, source: Source) -> None:
    known = list(known)
    if key in known:
        return
    near = get_close_matches(key, known, n=1, cutoff=0.5)
    instead = f"write {near[0]}" if near else f"write one such as {known[0]}"
    raise source.error(path, f'there is no {what} "{key[:40]}"', instead)
