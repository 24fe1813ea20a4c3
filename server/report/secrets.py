"""Settings as a report shows them: tables that hold no secret, one value a line. Pure.

What is not known to be free of secrets is left out, and that is said.
"""

import re
import tomllib
from collections.abc import Iterator
from typing import Any

TABLES = ("rig", "motor", "channels", "limits", "wires", "alarms")
_SECRET = re.compile(r"pass|secret|token|credential|key|private|auth|address|mail|url|receiver", re.IGNORECASE)
_USERINFO = re.compile(r"(?<=://)[^/@\s]*@")


def without_secrets(toml: str) -> str:
    """Lines `table.key = value`, and the names of tables in which nothing is set; who logs in where is taken out of
    addresses of ports."""
    try:
        said = tomllib.loads(toml)
    except (tomllib.TOMLDecodeError, RecursionError):
        return "(these settings cannot be read)"
    lines = [line for table in TABLES if table in said for line in _lines(table, said[table])]
    left_out = sorted(set(said) - set(TABLES))
    if left_out:
        lines.append(f"(left out: {', '.join(left_out)})")
    return "\n".join(lines)


def _lines(name: str, value: Any) -> Iterator[str]:
    if isinstance(value, dict) and value:
        for key, its in value.items():
            yield from _lines(f"{name}.{key}", its)
    elif any(_SECRET.search(part) for part in name.split(".")[1:]):
        yield f"{name} = (left out)"
    elif isinstance(value, dict):  # an alarm that is ready is turned on by its name
        yield f"{name}: all as usual"
    else:
        yield f"{name} = {_USERINFO.sub('', str(value))}"
