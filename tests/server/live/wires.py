"""A viewer's connection that keeps what it was given; it can be stopped like one whose page reads nothing."""

from typing import Any

from tests.server.live.unpack import unpack


class KeptWire:
    """`taken` holds the messages that left."""

    def __init__(self) -> None:
        self.taken: list[bytes] = []
        self.full = False
        self.aborted = False

    def write(self, message: bytes) -> bool:
        self.taken.append(message)
        return not self.full

    def abort(self) -> None:
        self.aborted = True

    @property
    def pictures(self) -> list[dict[str, Any]]:
        return [unpack(message) for message in self.taken]
