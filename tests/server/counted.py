"""What counter inputs tell, put among the messages of a board of a few lines."""

from collections.abc import Iterable, Sequence

from firmware_protocol import Count, Counters, Edges, InputDescription, InputKind, Message, Samples, Status
from tests.server.tiny_board import PLATE, TinyBoard

Word = tuple[int, int, int]  # when it is sent, the count, the tick of its last pulse
Story = Sequence[tuple[float, float, float, float]]


def counter(pulses_per_turn: int | None = 60, index: int = 0) -> InputDescription:
    return InputDescription(index, InputKind.COUNTER, "shaft counter", 0, pulses_per_turn)


def words(rpm: float, per_turn: int, until: int, start: int = 0, first: int = 0, every: int = 50_000) -> list[Word]:
    """Of a shaft that turns evenly from tick 0 on, told every 50 ms: by definition, pulse n comes at n / (per_turn
    rpm / 60) s."""
    a_second, out = per_turn * rpm / 60.0, list[Word]()
    for sent in range(first, until, every):
        pulses = int(sent / 1e6 * a_second)
        out.append((sent, (start + pulses) % 2**32, round(pulses / a_second * 1e6)))
    return out


def told(board: TinyBoard, story: Story, told: Iterable[Word], index: int = 0) -> list[Message]:
    """The messages of a story with words of a counter, each before what is sent later; a counter alone has no edges."""
    waiting, out = sorted(told, reverse=True), list[Message]()
    edged = any(each.kind is not InputKind.COUNTER for each in board.inputs)
    for message in board.messages(story):
        if isinstance(message, Edges) and not edged:
            continue
        sent = _sent(message)
        while waiting and waiting[-1][0] <= sent:
            _, count, tick = waiting.pop()
            out.append(Counters((Count(index, count, tick),)))
        out.append(message)
    return out


def _sent(message: Message) -> int:
    """No earlier than this."""
    if isinstance(message, Edges):
        return message.ticks[0]
    return message.tick if isinstance(message, Samples | Status) else -1


def board(pulses_per_turn: int | None = 60, plate: str = PLATE) -> TinyBoard:
    """With a counter and no other input."""
    return TinyBoard(inputs=(counter(pulses_per_turn),), plate=plate)
