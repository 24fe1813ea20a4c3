"""`slipring calibrate`: a channel's zero, gain or angle, question by question; what is kept, and undo.

Talks on standard error and asks on standard input; the list is on standard output.
"""

import json
import sys
import time
from argparse import Namespace
from typing import Any
from urllib.parse import quote, urlencode

from server.commands.asking import AskError, Asking, service_url
from server.commands.streams import say, write
from server.report.words import measured

LOOKS_S = 30.0  # for a signal to become fit before the person is asked again
_EVERY_S = 1.0
_DECIMALS = 9  # more than any ± of a calibration allows
WHATS = ("zero", "gain", "angle")


class _LeftError(Exception):
    """The person does not go on."""


def run(chosen: Namespace) -> int:
    """Exit code: 0 done, 1 refused or left, 130 interrupted."""
    url = service_url(chosen)
    try:
        service = Asking(url, chosen.data)
        path = f"/api/rigs/{quote(_rig(service, chosen.rig), safe='')}/calibration"
        if chosen.list:
            return _list(_kept(service, path), chosen.json)
        if chosen.undo is not None:
            return _undo(service, path, *chosen.undo)
        return _guide(service, path)
    except AskError as error:
        say(f"slipring: {error}")
    except (_LeftError, EOFError):
        say("slipring: left; nothing was kept.")
    return 1


def _rig(service: Asking, wanted: str) -> str:
    if wanted:
        return wanted
    rigs = [str(each["name"]) for each in service.get("/api/rigs")]
    if len(rigs) == 1:
        return rigs[0]
    there = ", ".join(rigs) or "none yet"
    raise AskError(f"which rig? Name it with --rig NAME; there are: {there}.")


def _kept(service: Asking, path: str) -> dict[str, Any]:
    """How the board is calibrated, where that can be told."""
    kept: dict[str, Any] = service.get(path)
    if not kept["described"]:
        raise AskError("the board has not said yet what it measures; connect it first.")
    if kept["refusal"]:
        raise AskError(f"the calibration file is not used: {kept['refusal']}")
    return kept


def _list(kept: dict[str, Any], as_json: bool) -> int:
    if as_json:
        for channel in kept["channels"]:
            write(json.dumps(channel, ensure_ascii=False).encode() + b"\n")
        return 0
    lines = [f"board {kept['serial']}, file {kept['file']}"]
    for channel in kept["channels"]:
        lines.append(f"{channel['channel']:3}  {channel['name'] or channel['place']}")
        lines += [f"     {what:5}  {words}" for what, words in channel["words"].items()]
    write("\n".join([*lines, ""]).encode())
    return 0


def _undo(service: Asking, path: str, what: str, channel: str) -> int:
    if what not in WHATS or not channel.isdecimal():
        raise AskError("write what and the channel's number, such as --undo gain 1; --list shows the numbers.")
    undone = service.post(f"{path}/undo", {"what": what, "channel": int(channel)})
    day = time.strftime("%Y-%m-%d", time.gmtime(undone["made_utc_s"]))
    say(f"The {what} calibration of {day} against {undone['reference']} was undone; the one before it holds.")
    return 0


def _guide(service: Asking, path: str) -> int:
    kept = _kept(service, path)
    if not kept["channels"]:
        raise AskError("this board has no evenly sampled channel.")
    wish = _wish(kept)
    what, guide = wish["what"], kept["guides"][wish["what"]]
    say(f"\n{guide['about']}\n\nCautions")
    for caution in guide["cautions"]:
        say(f"  ! {caution}")
    _agreed("Read and seen to? Type yes to go on: ")
    for number, step in enumerate(guide["steps"], 1):
        say(f"\n{number}. {step}")
        _asked("   Enter when that is so (q leaves): ")
    _look(service, path, wish)
    if what == "gain":
        wish |= _reference(kept["channels"], wish["channel"])
    elif what == "angle":
        wish["words"] = _asked("Which load is it (for the record, may be empty)? ")[:120]
    found = service.post(f"{path}/measure", wish)
    _tell(found)
    _agreed("Keep it? Type yes to keep: ")
    entry = service.post(f"{path}/keep", {})
    kept_words = measured(entry["value"], "", entry["u95"], _DECIMALS)
    say(f"Kept: {what} {kept_words}, against {entry['reference']}. It holds from now on.")
    return 0


def _wish(kept: dict[str, Any]) -> dict[str, Any]:
    """Which channel and what of it."""
    channels = {str(each["channel"]): each for each in kept["channels"]}
    say(f"Board {kept['serial']}. Its channels:")
    for number, each in channels.items():
        say(f"  {number}  {each['name'] or each['place']} ({each['role']}, {each['unit']})")
    channel = channels[_one_of("Which channel? ", list(channels))]
    for kind, words in channel["words"].items():
        say(f"  {kind:5}  {words}")
    wish: dict[str, Any] = {"what": _one_of("What is to be calibrated? ", list(channel["words"]))}
    wish["channel"] = channel["channel"]
    if wish["what"] == "angle":
        volts = [number for number, each in channels.items() if each["role"] == "voltage"]
        if not volts:
            raise AskError("this board has no voltage channel: there is no angle to be found.")
        named = ", ".join(f"{number} {channels[number]['name']}" for number in volts)
        say(f"  against which voltage: {named}")
        wish["against"] = int(volts[0] if len(volts) == 1 else _one_of("Against which voltage? ", volts))
        for load in kept["loads"]:
            say(f"  {load['key']:6}  {load['words']}")
        wish["load"] = _one_of("Which kind of load? ", [each["key"] for each in kept["loads"]])
    return wish


def _look(service: Asking, path: str, wish: dict[str, Any]) -> None:
    """The live reading, second by second, until it is fit."""
    query = urlencode({key: value for key, value in wish.items() if key in ("what", "channel", "against", "load")})
    refusal = ""
    while True:
        end_s = time.monotonic() + LOOKS_S
        while time.monotonic() < end_s:
            look = service.get(f"{path}/look?{query}")
            say(f"   {_reading(look, wish['what'])}   {look['pieces']} of {look['of']} pieces")
            if look["pieces"] == look["of"] and not look["refusal"]:
                return
            if look["refusal"] != refusal and look["pieces"] == look["of"]:
                refusal = look["refusal"]
                say(f"   not yet: {refusal}.")
            time.sleep(_EVERY_S)
        _asked("Not fit yet. Enter to look again (q leaves): ")


def _reading(look: dict[str, Any], what: str) -> str:
    if look["mean"] is None:
        return "waiting for samples"
    if what == "angle":
        return "no angle" if look["lead_deg"] is None else f"the current leads by {look['lead_deg']:+.3f}°"
    scatter = f" ± {look['scatter']:.1g} scatter" if look["scatter"] is not None else ""
    return f"mean {look['mean']:+.5g} {look['unit']}, RMS {look['rms']:.5g} {look['unit']}{scatter}"


def _reference(channels: list[dict[str, Any]], channel: int) -> dict[str, Any]:
    unit = next(each["unit"] for each in channels if each["channel"] == channel)
    value = _number(f"What does the meter read now, in {unit}? ")
    uncertainty = _number(f"How far may that be off (±), in {unit}? ")
    limit = _one_of("Is that a limit of its data sheet, or a 95 % interval of its certificate? ", ["limit", "interval"])
    words = _asked("Which meter is it, and when was it calibrated? ")[:120]
    return {"reference": value, "uncertainty": uncertainty, "is_limit": limit == "limit", "words": words}


def _tell(found: dict[str, Any]) -> None:
    unit = found["unit"] if found["unit"] == "°" else f" {found['unit']}"
    before, after = _with(found["before"], found["before_u95"], unit), _with(found["after"], found["after_u95"], unit)
    say(f"\nbefore  {before}\nafter   {after}\n± is the 95 % uncertainty; it comes from")
    for part in found["parts"]:
        say(f"  {part['standard']:.2g}  {part['source']}")


def _with(value: float, u95: float | None, unit: str) -> str:
    if not u95:  # 0: of what a board states to be exact
        return f"{value:.6g}{unit}" + (", ± is not known" if u95 is None else "")
    return measured(value, "", u95, _DECIMALS) + unit


def _asked(question: str) -> str:
    print(question, end="", file=sys.stderr, flush=True)
    line = sys.stdin.readline() if sys.stdin is not None else ""
    if not line:
        raise EOFError
    answer = line.strip()
    if answer.lower() in ("q", "quit"):
        raise _LeftError
    return answer


def _agreed(question: str) -> None:
    if _asked(question).lower() not in ("yes", "y"):
        raise _LeftError


def _one_of(question: str, answers: list[str]) -> str:
    while (answer := _asked(question).lower()) not in answers:
        say(f"  one of: {', '.join(answers)}; q leaves")
    return answer


def _number(question: str) -> float:
    while True:
        try:
            return float(_asked(question).replace(",", "."))
        except ValueError:
            say("  a number, such as 4.987; q leaves")
