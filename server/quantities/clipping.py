"""Which rows of a window reached an end of their range, in words. Pure."""

import numpy as np

from server.quantities.layout import Layout, Row
from server.samples import Samples


def clipped_rows(window: Samples, layout: Layout) -> list[str]:
    """What to say of each row that reached an end of its range."""
    if not window.clipped.any():
        return [""] * len(layout.rows)
    reached = np.asarray(window.clipped.any(axis=1)).tolist()
    words = []
    for k, row in enumerate(layout.rows):
        sources = [layout.take[source] for source in [source for source, _ in row.mix] or [k]]
        words.append(_range(row) if any(reached[source] for source in sources) else "")
    return words


def _range(row: Row) -> str:
    low, high, unit = row.channel.low, row.channel.high, row.channel.unit
    ends = f"±{_short(high)}" if abs(low + high) <= 1e-3 * high else f"{_short(low)} to {_short(high)}"
    return f"clipped at {ends} {unit}"


def _short(end: float) -> str:
    """Four digits and no exponent: 39.99878 is 40, 15000 stays 15000."""
    return f"{float(f'{end:.4g}'):g}"
