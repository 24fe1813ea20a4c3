"""Text of a person that stands on a page and in a terminal: nothing in it may break a line or steer a screen. Pure."""

from unicodedata import category

_BREAK = ("Cc", "Zl", "Zp")  # control characters, and what ends a line or a paragraph
_TURN = "\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"  # turn the direction of what stands behind them


def unprintable(text: str, several_lines: bool = False) -> str:
    """The first character that cannot be in a line of text, as `U+001B`, or empty. `several_lines`: a new line can."""
    allowed = "\n\t" if several_lines else ""
    wrong = (c for c in text if (category(c) in _BREAK or c in _TURN) and c not in allowed)
    return next((f"U+{ord(c):04X}" for c in wrong), "")


def escaped(text: str) -> str:
    """The same, each such character written out."""
    return "".join(f"\\u{ord(c):04x}" if unprintable(c) else c for c in text)
