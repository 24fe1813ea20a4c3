"""Text and numbers as cells of a CSV file (RFC 4180) in which nothing is a formula. Pure."""

from collections.abc import Iterable

_STARTS = ("=", "+", "-", "@", "＝", "＋", "－", "＠")  # a spreadsheet computes what begins so
_QUOTED = frozenset('",\r\n')


def text_cell(text: str) -> str:
    """A text as a cell: control characters are spaces, before what a spreadsheet would compute stands an apostrophe."""
    plain = "".join(" " if ord(each) < 32 or 127 <= ord(each) < 160 else each for each in text)
    if plain.lstrip().startswith(_STARTS):
        plain = "'" + plain
    return '"' + plain.replace('"', '""') + '"' if _QUOTED & set(plain) else plain


def number_cell(value: float, digits: int = 9) -> str:
    """A number with so many significant digits; empty where there is none."""
    return "" if value != value else f"{value:.{digits}g}"


def line(cells: Iterable[str]) -> str:
    """Cells that are ready, as a line."""
    return ",".join(cells) + "\r\n"
