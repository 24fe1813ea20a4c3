"""On which line of a TOML text does each key stand? The standard library's parser does not tell.

Assumes text that `tomllib` has accepted; on any other the answer is a guess, and nothing worse.
"""

import re

_TOKEN = re.compile(r'"""|\'\'\'|"(?:\\.|[^"\\])*"|\'[^\']*\'|#.*|[\[\]{}]')
_PART = r'(?:[A-Za-z0-9_-]+|"(?:\\.|[^"\\])*"|\'[^\']*\')'
_NAME = rf"{_PART}(?:\s*\.\s*{_PART})*"
_TABLE = re.compile(rf"\s*\[\[?\s*({_NAME})\s*\]\]?")
_KEY = re.compile(rf"\s*({_NAME})\s*=")


def key_lines(text: str) -> dict[str, int]:
    """Dotted key -> line, counted from 1. Tables stand in it too; a key inside `{...}` has the line of its outer key.

    >>> key_lines("[rig]\\nport = 'x'")
    {'rig': 1, 'rig.port': 2}
    """
    lines: dict[str, int] = {}
    table, quotes, depth = "", "", 0
    for number, line in enumerate(text.split("\n"), 1):
        rest = line
        if not quotes and not depth:
            if header := _TABLE.match(line):
                table = _plain(header[1])
                lines.setdefault(table, number)
                continue
            if key := _KEY.match(line):
                name = _plain(key[1])
                lines.setdefault(f"{table}.{name}" if table else name, number)
                rest = line[key.end() :]
        quotes, depth = _open_after(rest, quotes, depth)
    return lines


def _plain(name: str) -> str:
    return ".".join(part.strip("\"'") for part in re.findall(_PART, name))


def _open_after(line: str, quotes: str, depth: int) -> tuple[str, int]:
    """Which long quotes and how many brackets are still open at the end of the line."""
    at = 0
    while at < len(line):
        if quotes:
            end = line.find(quotes, at)
            if end < 0:
                return quotes, depth
            quotes, at = "", end + 3
            continue
        token = _TOKEN.search(line, at)
        if not token:
            break
        at = token.end()
        if token[0] in ('"""', "'''"):
            quotes = token[0]
        elif token[0] in "[{":
            depth += 1
        elif token[0] in "]}":
            depth = max(0, depth - 1)
    return quotes, depth
