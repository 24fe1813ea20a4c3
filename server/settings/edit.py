"""A settings file changed as a person would: values where they stand, comments and order kept. Pure.

Knows lines of one key each. What it cannot change so (a value over several lines, tables in braces) is written anew
without comments: the result is read back before it is used.
"""

import re

from server.config import ConfigError, RigSettings
from server.settings.tables import Values, key_line
from server.settings.text import parse_rig, rig_text, tables_of

_VALUE = re.compile(r"""^(\s*[^=#]+?\s*=\s*)("(?:\\.|[^"\\])*"|'[^']*'|[^#"'\[\]{}]*?)(\s*(?:#.*)?)$""")


def edited(text: str, name: str, settings: RigSettings) -> str:
    """The text of the file of the rig `name`, changed to these settings, which can be written and read back."""
    try:
        now = parse_rig(text, "", name)
        wanted = parse_rig(rig_text(settings), "", settings.name).settings
        changed = _changed(text.split("\n"), now.lines, dict(tables_of(now.settings)), dict(tables_of(wanted)))
        if changed is not None and parse_rig(changed, "", settings.name).settings == wanted:
            return changed
    except ConfigError:
        pass  # nobody can read what stands there, or what came of it
    return rig_text(settings)


def _changed(lines: list[str], where: dict[str, int], now: dict[str, Values], wanted: dict[str, Values]) -> str | None:
    """None: a line is not of the kind that can be changed."""
    gone: set[int] = set()
    behind: dict[int, list[str]] = {}  # what comes behind a line, counted from 1
    end: list[str] = []
    for header in dict.fromkeys([*now, *wanted]):
        its, new, path = now.get(header, {}), wanted.get(header, {}), _path(header)
        places = {key: where[f"{path}.{key}"] for key in its if f"{path}.{key}" in where}
        if header not in wanted and path in where:
            gone.add(where[path])
        gone |= {line for key, line in places.items() if key not in new}
        fresh = []
        for key, value in new.items():
            if its.get(key) == value:
                continue
            if key not in places:
                fresh.append(key_line(key, value))
                continue
            line = _VALUE.match(lines[places[key] - 1])
            if line is None:
                return None
            lines[places[key] - 1] = line[1] + key_line("", value).removeprefix(" = ") + line[3]
        if fresh and path in where:
            behind[max(where[path], *places.values(), 0)] = fresh
        elif fresh or (header not in now and (header == "motor" or header.startswith("alarms."))):
            end += ["", f"[{header}]", *fresh]
    kept = [
        line
        for number, text in enumerate(lines, 1)
        for line in ([] if number in gone else [text]) + behind.get(number, [])
    ]
    body = "\n".join(kept).rstrip("\n")
    return "\n".join([body, *end] if body else end[1:]) + "\n"


def _path(header: str) -> str:
    """A header as `key_lines` names it."""
    return header.replace('"', "")
