"""Text and numbers as cells of a CSV file (RFC 4180) in which nothing is a formula. Pure."""

import re
from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

_STARTS = ("=", "+", "-", "@", "＝", "＋", "－", "＠")  # a spreadsheet computes what begins so
_QUOTED = frozenset('",\r\n')
_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f]")


def text_cell(text: str) -> str:
    """A text as a cell: control characters are spaces, before what a spreadsheet would compute stands an apostrophe."""
    plain = _CONTROL.sub(" ", text)
    if plain.lstrip().startswith(_STARTS):
        plain = "'" + plain
    return '"' + plain.replace('"', '""') + '"' if _QUOTED & set(plain) else plain


def number_cells(values: NDArray[np.float64], digits: int = 9) -> Sequence[str]:
    """Numbers of a column with so many significant digits; empty where there is none."""
    known = ~np.isnan(values)
    numbers = values[known].tolist()
    texts = (f"%.{digits}g\n" * len(numbers) % tuple(numbers)).split("\n")[:-1]
    if len(numbers) == values.size:
        return texts
    cells = np.full(values.size, "", object)
    cells[known] = texts
    its: list[str] = cells.tolist()
    return its


def list_cell(values: Sequence[float], digits: int = 7) -> str:
    """Several numbers, a space between them."""
    return (f" %.{digits}g" * len(values) % tuple(values))[1:] if values else ""


def line(cells: Iterable[str]) -> str:
    """Cells that are ready, as a line."""
    return ",".join(cells) + "\r\n"
