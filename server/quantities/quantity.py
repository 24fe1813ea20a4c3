"""What a quantity is called, how it is written, and where its definition comes from. Records only."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Quantity:
    """One entry of the catalogue. `symbol` may hold one subscript behind an underscore; `unit` is empty for a plain
    number or a word; `digits` are decimals shown; `source` names the definition."""

    key: str
    symbol: str
    label: str
    unit: str
    digits: int
    source: str
