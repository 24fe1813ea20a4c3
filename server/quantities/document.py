"""The catalogue as a document for people: QUANTITIES.md. `python -m server.quantities.document` writes it anew."""

from pathlib import Path

from server.quantities import QUANTITIES, Quantity

FILE = Path(__file__).with_name("QUANTITIES.md")
_HEAD = """# Quantities

Every number that Slipring shows is one of these. Written by `python -m server.quantities.document` from the catalogue
in this folder. A reading is good, doubtful (with the reason) or absent (with the reason). Where its uncertainty is
known it has one: half the width of the interval that holds the true value in 95 % of cases (JCGM 100).
*From memory*: the standard was not at hand.

| key | symbol | unit | what it is | source | needs | motors |
|---|---|---|---|---|---|---|
"""


def document() -> str:
    """The whole text."""
    return _HEAD + "".join(_line(each) for each in QUANTITIES)


def _line(each: Quantity) -> str:
    motors = ", ".join(key.replace("_", " ") for key in each.motors) or "all"
    what = f"{each.label}: {each.definition}"
    return f"| `{each.key}` | {each.symbol} | {each.unit or '-'} | {what} | {each.source} | {each.needs} | {motors} |\n"


if __name__ == "__main__":
    FILE.write_text(document())
