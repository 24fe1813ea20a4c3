"""What a line of text may hold. The characters are named as in the Unicode character database (from memory)."""

import pytest

from server.settings.plain import escaped, unprintable


@pytest.mark.parametrize(
    ("text", "odd"),
    [
        ("half a \ud800 letter", "U+D800"),
        ("zero\u200bwidth space", "U+200B"),
        ("word\u2060joiner", "U+2060"),
        ("\ufeffbyte order mark", "U+FEFF"),
        ("soft\u00adhyphen", "U+00AD"),
        ("turned \u202e round", "U+202E"),
        ("tag \U000e0041", "U+E0041"),
        ("red \x1b[31m", "U+001B"),
    ],
)
def test_what_is_not_seen_or_is_no_character_is_found(text: str, odd: str) -> None:
    assert unprintable(text) == odd


def test_letters_that_are_written_with_joiners_stay() -> None:
    assert unprintable("می\u200cشود, 👩\u200d🔧") == ""  # a Persian word with a non-joiner, a mechanic with a joiner


def test_it_is_written_out_as_toml_does() -> None:
    assert escaped("a\u200b\U000e0041") == "a\\u200b\\U000e0041"
