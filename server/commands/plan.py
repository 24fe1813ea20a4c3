"""`slipring plan RIG`: how the test on a rig stands; --set FILE gives it a plan, --remove puts it away."""

import json
from argparse import Namespace
from datetime import datetime
from pathlib import Path
from typing import Any
from urllib.parse import quote

from server.commands.asking import AskError, Asking, service_url
from server.commands.streams import say, write
from server.config import ConfigError
from server.report.words import length, measured
from server.settings.file import settings_text
from server.test_plan.text import parse_plan

_CODES = {"pass": 0, "fail": 3, "undecided": 4}
_DECIMALS = 2  # where no ± ends a number
_MINUTES_S = 7200.0  # up to here what is left is told in minutes


def run(chosen: Namespace) -> int:
    """Exit code: 0 pass, or done; 3 fail, 4 undecided; 1 it could not be asked or was refused."""
    path = f"/api/rigs/{quote(chosen.rig, safe='')}/plan"
    try:
        asking = Asking(service_url(chosen), chosen.data)
        if chosen.remove:
            asking.delete(path)
            say(f"slipring: the test plan of {chosen.rig} was put away; its runs stay.")
            return 0
        if chosen.set is not None:
            text = settings_text(Path(chosen.set))
            parse_plan(text, chosen.set)  # refused with the name of this file
            kept: dict[str, Any] = asking.put(path, {"text": text})
            begins = kept["tables"]["test"].get("begins")
            counted = f"Its runs since {begins} count." if begins else "All its runs count, those until now too."
            say(f"slipring: {chosen.rig} is tested by this plan, kept in {kept['file']}. {counted}")
            if kept["ended"]:
                say(f"slipring: the run {kept['ended']} was ended, as it opened before the test begins.")
            return 0
        found: dict[str, Any] = asking.get(f"{path}/judgement")
        plan: dict[str, Any] = asking.get(path)
    except (AskError, ConfigError) as error:
        say(f"slipring: {error}")
        return 1
    words = [json.dumps(found)] if chosen.json else _words(found, plan["tables"]["test"])
    write("".join(f"{line}\n" for line in words).encode())
    return _CODES[found["outcome"]]


def _words(found: dict[str, Any], test: dict[str, Any]) -> list[str]:
    """How it stands, line by line."""
    serial = f", {test['serial']}" if "serial" in test else ""
    goals = [f"{test['goal_cycles']} cycles"] if "goal_cycles" in test else []
    goals += [f"{test['goal_hours']:g} h"] if "goal_hours" in test else []
    goals += ["thermal equilibrium"] if "heat_run" in test else []
    lines = [f"{found['outcome']}: {test['specimen']}{serial}, {' and '.join(goals)}"]
    for each in found["failures"]:
        when = datetime.fromtimestamp(each["utc_s"]).astimezone()
        cycle = "" if each["cycle"] is None else f", cycle {each['cycle']}"
        lines.append(f"  {when:%Y-%m-%d %H:%M:%S %z}  {each['text']} ({each['run']}{cycle})")
    if more := found["failures_count"] - len(found["failures"]):
        lines.append(f"  and {more} more limits passed")
    reasons = found["reasons"][1:] if found["failures"] else found["reasons"]  # the first failure says it too
    lines += [f"  {each}" for each in reasons]
    cycles = "1 cycle" if found["cycles"] == 1 else f"{found['cycles']} cycles"
    lines.append(f"  at least {cycles} and {length(3600 * found['hours'])} on")
    lines += [f"  not known: {each}" for each in found["unknown"] if each not in found["reasons"]]
    if found["outcome"] == "undecided":
        lines.append(f"  left: {_left(found['left'])}")
    for key, what, unit in (("duty_factor_percent", "duty factor", "%"), ("starts_per_hour", "starts per hour", "1/h")):
        lines.append(f"  {what}: {_figure(found[key], unit)}")
    duty = found["duty_type"]
    lines.append(f"  duty: {duty['name']} {duty['words']}".rstrip())
    lines += [f"    {each}" for each in duty["missing"]]
    lines += [_drift(each) for each in found["drifts"] if each["significant"]]
    return lines


def _left(left: dict[str, Any]) -> str:
    if left["seconds"] is None:
        return str(left["reason"])
    unit, unit_s = ("min", 60) if left["seconds"] < _MINUTES_S else ("h", 3600)
    u95 = left["u95"] / unit_s if left["u95"] else None
    return measured(left["seconds"] / unit_s, unit, u95, _DECIMALS) + (f" by {left['by']}" if left["by"] else "")


def _figure(figure: dict[str, Any], unit: str) -> str:
    if figure["value"] is None:
        return str(figure["reason"])
    said = measured(figure["value"], unit, figure["u95"], _DECIMALS)
    return f"{figure['bound']} {said}" if figure["bound"] else said


def _drift(drift: dict[str, Any]) -> str:
    ends = f"{1000 * drift['low95']:+.2g} to {1000 * drift['high95']:+.2g} {drift['unit']}"
    return f"  drifts: {drift['label']} by {ends} in 1000 cycles"
