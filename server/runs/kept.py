"""Wire bytes that say again what a board said of itself, for a run that begins in the middle of its stream. Pure."""

from firmware_protocol import Decoder, Received, encode_frame
from firmware_protocol.frame import SEQUENCE_MODULUS
from server.stream.describing import Description


def from_whole_frame(data: bytes) -> bytes:
    """The bytes behind the first delimiter: a ring of chunks begins anywhere."""
    return data[data.find(b"\0") + 1 :]


def kept_frames(description: Description, following: bytes) -> bytes:
    """Frames of the description, numbered so that the first good frame of `following` comes next in turn."""
    messages = description.messages
    first = next((each for each in Decoder(from_board=True).feed(following) if isinstance(each, Received)), None)
    boot = description.identity.boot if first is None else first.boot
    start = -len(messages) if first is None else first.sequence - len(messages)
    return b"".join(
        encode_frame(message, sequence=(start + k) % SEQUENCE_MODULUS, boot=boot & 0xFF)
        for k, message in enumerate(messages)
    )
