"""Seeded worlds around the core: any groups, a line that is now quick and now dead, sets missed, edges in bursts.

`run` lives through one and checks all accounts at its end: every set and every edge is there under its number and with
its tick, or is counted as what became of it.
"""

from dataclasses import dataclass, field
from fractions import Fraction
from math import floor
from random import Random

from firmware_protocol import Damage, Edges, Message, Received, Samples, Samples12, Samples24, Status, Word
from tests.firmware_protocol.firmware.c_core import Core
from tests.firmware_protocol.firmware.host_board import Group, HostBoard
from tests.firmware_protocol.plain import codes_of

_MS = 400
_DRAIN_MS = 500


@dataclass
class Truth:
    """What happened: by group the codes of each set (None: it was missed), and the edges."""

    sets: list[list[list[int] | None]]
    edges: list[tuple[int, int]] = field(default_factory=list)


def run(core: Core, seed: int) -> dict[str, int]:
    """Raises AssertionError where an account is wrong; returns how much of each was lost."""
    draw = Random(seed)
    now = draw.choice((0, (1 << 32) - 90_000))
    board = HostBoard(core, groups(draw), outbox_bytes=draw.choice((512, 2048)), now=now)
    truth, begin, found = Truth([[] for _ in board.groups]), board.now, list[Received | Damage]()
    found += board.step(60)  # it describes itself
    for _ in range(_MS):
        if draw.random() < 0.02:
            board.bytes_per_ms = draw.choice((0, 5, 25, 100, 400))
        happen(draw, board, truth)
        found += board.step(1, draw.choice((250, 500, 1000)))
    board.bytes_per_ms = 4000
    found += board.step(_DRAIN_MS)
    assert not [one for one in found if isinstance(one, Damage)]
    heard = [one.message for one in found if isinstance(one, Received)]
    last = [message for message in heard if isinstance(message, Status)][-1]
    dropped = sum(account(heard, number, group, truth, begin) for number, group in enumerate(board.groups))
    assert bool(dropped) == bool(last.dropped_blocks)
    assert last.overruns == sum(codes is None for sets in truth.sets for codes in sets)
    account_of_edges(heard, truth, last)
    return {"dropped": last.dropped_blocks, "overruns": last.overruns, "edges": last.lost_edges, "sets": dropped}


def groups(draw: Random) -> list[Group]:
    made = []
    for _ in range(draw.randint(1, 3)):
        ticks = Fraction(draw.randint(200, 3000), draw.choice((1, 1, 3, 7, 64)))
        made.append(Group(draw.randint(1, 4), draw.choice(list(Word)), draw.randint(1, 20), max(ticks, Fraction(1))))
    return made


def happen(draw: Random, board: HostBoard, truth: Truth) -> None:
    """What interrupts do in the coming millisecond."""
    for number, (group, sets) in enumerate(zip(board.groups, truth.sets, strict=True)):
        end = 1 << (group.word.bits - 1)
        if draw.random() < 0.01:
            missed = draw.randint(1, 30)
            board.miss(number, missed)
            sets += [None] * missed
        come = [[draw.randint(-end, end - 1) for _ in range(group.channels)] for _ in range(draw.randint(0, 3))]
        taken = board.take(number, come)
        sets += come[:taken]
        sets += [None] * (len(come) - taken)
    for _ in range(draw.choice((0, 0, 0, 1, 3)) if draw.random() < 0.95 else 25):
        level = (truth.edges[-1][1] if truth.edges else 0) ^ draw.randint(1, 7)
        tick = max(board.now, truth.edges[-1][0] if truth.edges else 0) + draw.randint(1, 30)
        truth.edges.append((tick, level))
        board.edge(tick, level)


def account(heard: list[Message], number: int, group: Group, truth: Truth, begin: int) -> int:
    """Sets of one group that were taken and did not come, up to the last that came."""
    came: set[int] = set()
    for block in heard:
        if isinstance(block, Samples | Samples12 | Samples24) and block.group == number:
            codes = codes_of(block.words, block.channels, group.word.bits)
            assert codes == truth.sets[number][block.first_sample : block.first_sample + len(codes)]
            assert block.tick == begin + floor(block.first_sample * group.ticks + Fraction(1, 2))  # halves up
            assert not came & set(range(block.first_sample, block.first_sample + len(codes)))
            came |= set(range(block.first_sample, block.first_sample + len(codes)))
    upto = truth.sets[number][: max(came, default=-1) + 1]
    assert not came & {k for k, codes in enumerate(upto) if codes is None}
    return sum(codes is not None for k, codes in enumerate(upto) if k not in came)


def account_of_edges(heard: list[Message], truth: Truth, last: Status) -> None:
    came, told = 0, 0
    for message in heard:
        if isinstance(message, Edges):
            edges = list(zip(message.ticks, message.states, strict=True))
            assert edges == truth.edges[message.first_edge : message.first_edge + len(edges)]
            assert message.ticks[0] >= told
            came += len(edges)
        if isinstance(message, Status):
            told = message.tick
            before = [level for tick, level in truth.edges if tick <= message.tick]
            assert message.levels == (before[-1] if before else 0)
    assert len(truth.edges) - came == last.lost_edges
