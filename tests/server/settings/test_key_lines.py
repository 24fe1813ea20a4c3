"""The lines of keys, against texts whose lines the test counts by building them."""

import random
import tomllib
from typing import Any

import pytest

from server.settings.key_lines import key_lines

VALUES = (
    "3",
    '"plain"',
    '"a # no comment, = and [x]"',
    "'literal [ \" '",
    '"escaped \\" quote = 3"',
    "[1, 2]",
    "[\n  1, # one\n  2,\n]",
    '["[", "]",\n"}"]',
    '"""first\n[rig]\nname = 3\n"""',
    "'''\n[motor]\nkey = '''",
    '""""quoted" at the start"""',
    "{ inner = 1, other = 'x' }",
    "2026-11-25T09:00:00Z",
)


def test_the_trivial_text() -> None:
    assert key_lines("[rig]\nport = 'x'") == {"rig": 1, "rig.port": 2}


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("a.b = 1\n", {"a.b": 1}),
        ("# port = 3\n\n  port = 3 # port = 4\n", {"port": 3}),
        ('"quoted" = 1\n', {"quoted": 1}),
        ("[ motor . plate ]\nx=1", {"motor.plate": 1, "motor.plate.x": 2}),
        ("", {}),
    ],
)
def test_spellings_of_keys(text: str, expected: dict[str, int]) -> None:
    assert key_lines(text) == expected


def test_carriage_returns_do_not_move_the_lines() -> None:
    assert key_lines("[rig]\r\nport = 'x'\r\nbaud = 3\r\n")["rig.baud"] == 3


@pytest.mark.parametrize("seed", range(40))
def test_every_key_is_found_on_its_line_whatever_the_values_before_it_hold(seed: int) -> None:
    luck = random.Random(seed)
    lines: list[str] = []
    expected: dict[str, int] = {}
    for table in ("", "rig", "motor", "motor.plate"):
        if table:
            expected[table] = len(lines) + 1
            lines.append(f"[{table}]  # [other]")
        for number in range(luck.randrange(5)):
            lines += ["", "# k = 1"][: luck.randrange(3)]
            key = f"k{number}"
            expected[f"{table}.{key}" if table else key] = len(lines) + 1
            lines += f"{key} = {luck.choice(VALUES)}".split("\n")
    text = "\n".join(lines)
    assert set(_leaves(tomllib.loads(text))) <= set(expected)  # the standard library's parser accepts the text
    assert key_lines(text) == expected


def _leaves(table: dict[str, Any], place: str = "") -> list[str]:
    found = []
    for key, value in table.items():
        if isinstance(value, dict) and "inner" not in value:
            found += _leaves(value, f"{place}{key}.")
        else:
            found.append(place + key)
    return found
