"""Text of strangers as plain text: control characters and what turns the direction of writing are left out. Pure."""

import unicodedata

_LEFT_OUT = ("Cc", "Cs", "Co", "Cn")  # control, halves of characters, private, not assigned
_TURNING = frozenset("\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\ufeff")


def plain(text: str) -> str:
    """Line ends and tabs are spaces; nothing in it changes what stands beside it."""
    said = text.replace("\n", " ").replace("\t", " ")
    return "".join(each for each in said if each not in _TURNING and unicodedata.category(each) not in _LEFT_OUT)
