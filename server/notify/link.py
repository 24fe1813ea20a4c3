"""What a worker asks of the way to one receiver, whatever its kind; and how a message looks."""

import json
from collections.abc import Mapping, Sequence
from typing import Protocol

from server.notify.draft import moment
from server.notify.outbox import Waiting


class Link(Protocol):
    """The way to one receiver. Every call ends within the deadline; raises SendError with a sentence."""

    @property
    def at_once(self) -> int:
        """How many entries it would take in one delivery."""

    def deliver(self, origin: str, entries: Sequence[Waiting]) -> int:
        """Send in order; up to which number the receiver has them. Raises SendError where it has none of them."""

    def sign_of_life(self, utc_s: float) -> None:
        """Tell that the service is alive."""

    def tend(self) -> bool:
        """Asked every second or so while nothing is to be sent. Whether it shows that the receiver is reached."""

    def test(self, utc_s: float) -> str:
        """Send a message that says it is a test; what came of it, in a sentence."""

    def close(self) -> None:
        """In order, if the receiver can be told."""


TEST_TITLE = "This is a test of Slipring's messages; nothing has happened"
ALIVE_TITLE = "Slipring is running"


def message_of(origin: str, entry: Waiting) -> dict[str, object]:
    """What a program gets: an id that is the same each time it is sent, and `after`, the number before it."""
    envelope = {"id": f"{origin}-{entry.number}", "origin": origin, "number": entry.number, "after": entry.after}
    return {**envelope, "made": moment(entry.made_utc_s), **entry.record}


def word_of(kind: str, title: str, utc_s: float) -> dict[str, object]:
    """A message that has no number, as it is worth nothing later: a sign of life, a test."""
    return {"kind": kind, "rank": "information", "title": title, "at_utc_s": utc_s, "made": moment(utc_s)}


def packed(message: Mapping[str, object]) -> bytes:
    return json.dumps(message).encode()
