"""Text of a person that stands on a page and in a terminal: nothing in it may break a line or steer a screen. Pure."""

from unicodedata import category

# Control characters, what ends a line or a paragraph, what is not seen (some of it turns the direction of what stands
# behind it), and halves of a character, which no file and no answer can hold.
_WRONG = ("Cc", "Zl", "Zp", "Cf", "Cs")
_JOINERS = "\u200c\u200d"  # not seen either, but letters of some scripts are written with them


def unprintable(text: str, several_lines: bool = False) -> str:
    """The first character that cannot be in a line of text, as `U+001B`, or empty. `several_lines`: a new line can."""
    allowed = _JOINERS + ("\n\t" if several_lines else "")
    wrong = (c for c in text if category(c) in _WRONG and c not in allowed)
    return next((f"U+{ord(c):04X}" for c in wrong), "")


def escaped(text: str) -> str:
    """The same, each such character written out."""
    return "".join(_written_out(c) if unprintable(c) else c for c in text)


def _written_out(char: str) -> str:
    """As a TOML file writes it: four digits, or eight."""
    return f"\\u{ord(char):04x}" if ord(char) < 0x10000 else f"\\U{ord(char):08x}"
