"""The code that pairs a device: shown on the PC, typed or read there once, within five minutes. Pure."""

import secrets
from dataclasses import dataclass

CODE_S = 300.0
LETTERS = 8
ALPHABET = "ABCDEFGHJKMNPQRSTUVWXYZ23456789"  # no I L O 0 1, which are read for each other; 31^8 is 39.6 bits


@dataclass(frozen=True, slots=True)
class Code:
    """`text` as it is shown, in two halves; it ends at `until_s`."""

    text: str
    until_s: float


class Pairing:
    """One code at a time; `now_s` is a clock that never steps."""

    def __init__(self) -> None:
        self._code: Code | None = None

    def begin(self, now_s: float) -> Code:
        """A new code; the one before is worthless."""
        letters = "".join(secrets.choice(ALPHABET) for _ in range(LETTERS))
        self._code = Code(f"{letters[:4]}-{letters[4:]}", now_s + CODE_S)
        return self._code

    def end(self) -> None:
        """No code holds."""
        self._code = None

    def open_s(self, now_s: float) -> float:
        """How long the code holds still; 0: there is none."""
        return 0.0 if self._code is None else max(0.0, self._code.until_s - now_s)

    def take(self, typed: str, now_s: float) -> bool:
        """Whether it is the code. It never is twice."""
        if self._code is None or self._code.until_s <= now_s:
            return False
        right = secrets.compare_digest(_plain(typed), _plain(self._code.text))
        if right:
            self._code = None
        return right


def _plain(text: str) -> bytes:
    """As a person may type it: small letters, with or without what stands between the halves."""
    return "".join(letter for letter in text.upper() if letter not in " -").encode("utf-8", "replace")
