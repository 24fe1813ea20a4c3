"""Frames of one step, numbered as they leave; says no when the line has no room for them."""

from collections.abc import Iterable

from firmware_protocol import Message, encode_frame

RESERVE_BYTES = 4096  # kept free of samples and edges, so that status and description still pass when they pile up


class Outbox:
    """Collects frames between `open` and `take`; a frame that was refused takes no sequence number."""

    def __init__(self, boot: int) -> None:
        self.boot = boot
        self._sequence = 0
        self._frames = [b"\0"]  # the first byte of a start ends whatever was on the line before
        self._room: int | None = None

    def open(self, room: int | None) -> None:
        """Begin a step in which `room` bytes may leave; None: any number."""
        self._room = room

    def put(self, *messages: Message, reserve: int = 0) -> bool:
        """Take all of the messages, or none of them if they would leave less room than `reserve`."""
        frames = [
            encode_frame(message, sequence=self._sequence + k, boot=self.boot) for k, message in enumerate(messages)
        ]
        if self._room is not None:
            size = sum(map(len, frames))
            if size + reserve > self._room:
                return False
            self._room -= size
        self._sequence += len(frames)
        self._frames += frames
        return True

    def put_data(self, messages: Iterable[Message]) -> list[Message]:
        """Take samples, edges or counts one by one; the ones that found no room come back."""
        return [message for message in messages if not self.put(message, reserve=RESERVE_BYTES)]

    def take(self) -> bytes:
        """All bytes since the last `take`."""
        data = b"".join(self._frames)
        self._frames.clear()
        return data
