"""Reads payloads by the tables of SPEC.md alone, as somebody would who has only that text. Knows no class of the codec.

So a table that says something else than the codec does is found by any frame that holds the value.
"""

import re
from dataclasses import dataclass, field
from pathlib import Path
from struct import unpack
from typing import Any

from tests.firmware_protocol.plain import codes_of

SPEC = Path(__file__).resolve().parent.parent.parent / "firmware_protocol" / "SPEC.md"
TEXT = SPEC.read_text(encoding="utf-8")

_HEADING = re.compile(r"^### 0x([0-9A-F]{2}) (\w+)$", re.M)
_BITS = {"Samples": 16, "Samples12": 12, "Samples24": 24}
_ITEM_LISTS = {"Singles": "singles", "Counters": "counts"}
_WIDTH = {"u8": 1, "u16": 2, "u32": 4, "u48": 6, "u64": 8, "i16": 2, "i32": 4, "f32": 4, "f64": 8}


@dataclass(frozen=True)
class Row:
    """One line of a table: where (offset or tag), the names in it, their types, and what is said of them."""

    at: int
    size: int
    names: tuple[str, ...]
    types: tuple[str, ...]
    said: str


@dataclass
class Section:
    """What the text says of one message."""

    name: str
    type: int
    text: str
    fixed: list[Row] = field(default_factory=list)
    items: list[Row] = field(default_factory=list)
    tags: dict[int, Row] = field(default_factory=dict)

    @property
    def fixed_length(self) -> int:
        return sum(row.size for row in self.fixed)

    @property
    def item_length(self) -> int:
        return sum(row.size for row in self.items)


def tables(text: str) -> list[list[dict[str, str]]]:
    """All tables of a piece of the text: a list of rows, each a cell by the heading of its column."""
    found: list[list[dict[str, str]]] = []
    for block in re.findall(r"(?:^\|.*\|\n)+", text, re.M):
        lines = [[cell.strip() for cell in line.strip("|\n").split("|")] for line in block.splitlines()]
        found.append([dict(zip(lines[0], line, strict=True)) for line in lines[2:]])
    return found


def sections() -> dict[str, Section]:
    starts = list(_HEADING.finditer(TEXT))
    ends = [*(match.start() for match in starts[1:]), len(TEXT)]
    found = {}
    for match, end in zip(starts, ends, strict=True):
        text = TEXT[match.end() : end].split("\n## ")[0]
        section = Section(match[2], int(match[1], 16), text)
        for table in tables(text):
            for cells in table:
                if "tag" in cells:
                    section.tags[int(cells["tag"])] = _row(cells, "tag")
                elif "item offset" in cells:
                    section.items.append(_row(cells, "item offset"))
                elif "offset" in cells:  # another table is no layout
                    section.fixed.append(_row(cells, "offset"))
        found[section.name] = section
    return found


def _row(cells: dict[str, str], where: str) -> Row:
    names = tuple(re.findall(r"`(\w+)`", cells["name"]))
    types = tuple(kind.strip() for kind in cells["type"].split(","))
    size = int(cells["size"]) if "size" in cells else sum(_WIDTH.get(kind, 0) for kind in types)
    return Row(int(cells[where]), size, names, types, cells.get("limits and meaning", cells.get("meaning", "")))


def listed_values() -> dict[str, dict[int, str]]:
    """The text's lists of values: name of the list -> number -> name."""
    lists: dict[str, dict[int, str]] = {}
    for table in tables(TEXT):
        for cells in table:
            if "list" in cells:
                lists.setdefault(cells["list"], {})[int(cells["value"])] = cells["name"]
    return lists


LISTS = listed_values()
SECTIONS = sections()


def read_payload(section: Section, payload: bytes) -> dict[str, Any]:
    """The values in a payload by name, as the text's tables have them."""
    values: dict[str, Any] = {}
    for row in section.fixed:
        values |= _read(row, payload[row.at : row.at + row.size])
    rest = payload[section.fixed_length :]
    if section.items:
        items = [rest[at : at + section.item_length] for at in range(0, len(rest), section.item_length)]
        return values | _read_items(section, items)
    if section.name in _BITS:
        return values | {"codes": codes_of(rest, values["channels"], _BITS[section.name])}
    return values | _read_tags(section, rest)


def _read_items(section: Section, items: list[bytes]) -> dict[str, Any]:
    each = [
        {name: value for row in section.items for name, value in _read(row, raw[row.at : row.at + row.size]).items()}
        for raw in items
    ]
    if section.name in _ITEM_LISTS:
        return {_ITEM_LISTS[section.name]: each}
    ticks, states = ([item[name] for item in each] for name in ("ticks", "states"))
    return {"ticks": ticks, "states": bytes(states).hex()}


def _read_tags(section: Section, raw: bytes) -> dict[str, Any]:
    joined: dict[int, bytes] = {}
    unknown = []
    while raw:
        tag, value, raw = raw[0], raw[2 : 2 + raw[1]], raw[2 + raw[1] :]
        if tag in section.tags:
            joined[tag] = joined.get(tag, b"") + value
        else:
            unknown.append([tag, value.hex()])
    values = {name: value for tag, whole in joined.items() for name, value in _read(section.tags[tag], whole).items()}
    return values | ({"unknown": unknown} if unknown else {})


def _read(row: Row, raw: bytes) -> dict[str, Any]:
    numbers: list[Any] = []
    for kind in row.types:
        width = _WIDTH.get(kind, len(raw))
        numbers.append(_number(kind, raw[:width]))
        raw = raw[width:]
    assert not raw, f"{row.names}: {len(raw)} bytes more than the table says"
    if named := re.search(r"list (role|sample kind|sample word|input kind)", row.said):
        numbers[0] = LISTS[named[1]][numbers[0]]
    if "0xFFFFFFFF = not known" in row.said and numbers[-1] == 0xFFFFFFFF:
        return {row.names[0]: numbers[0]}
    return {row.names[0]: numbers} if len(row.names) < len(numbers) else dict(zip(row.names, numbers, strict=True))


def _number(kind: str, raw: bytes) -> int | float | str:
    if kind == "text":
        return raw.decode()
    if kind.startswith("f"):
        value: float = unpack({"f32": "<f", "f64": "<d"}[kind], raw)[0]
        return value
    return int.from_bytes(raw, "little", signed=kind.startswith("i"))
