"""A board whose three Hall inputs and leads are turned by hand, as frames of the wire."""

from fractions import Fraction

import numpy as np

from firmware_protocol import (
    PROTOCOL_MAJOR,
    PROTOCOL_MINOR,
    WORD_CODING,
    ChannelDescription,
    Edges,
    Identity,
    InputDescription,
    InputKind,
    Message,
    Role,
    Samples,
    Status,
)
from tests.server.wiring.turned import RATE_HZ, TICK_HZ, Hand, turned_by_hand

BLOCK = 40
STEP = round(TICK_HZ / RATE_HZ)
SCALE_V = 1e-3
PLATE = """
[motor]
name = "tender thruster"
type = "brushless"
[motor.plate]
voltage_v = 36.0
current_a = 13.7
pole_pairs = 7
"""


def messages(*hands: Hand, still_s: float = 2.0, stuck_low: int = 0) -> list[Message]:
    """Strokes one behind the other on one board, each with rest behind it; `stuck_low`: bits of inputs that stay so."""
    out, first_sample, sent, level = description(), 0, 0, 0
    for hand in hands:
        tail, leads = turned_by_hand(hand)
        rest = round(still_s * RATE_HZ)
        count = (leads.count + rest) // BLOCK * BLOCK
        volts = np.zeros((3, count))
        volts[:, : leads.count] = 4.0 / leads.spread.max() * leads.volts[:, :count]
        ticks, states = tail.ticks + first_sample * STEP, tail.states
        if tail.before is not None and tail.before != level:  # wires were moved meanwhile
            ticks, states = np.concatenate(([first_sample * STEP + 1], ticks)), np.concatenate(([tail.before], states))
        if stuck_low:
            states = states & ~stuck_low
            changed = np.diff(states, prepend=-1) != 0
            ticks, states = ticks[changed], states[changed]
        its, sent = _stream(volts, ticks, states, first_sample, sent, level)
        out += its
        level, first_sample = int(states[-1]), first_sample + count
    return out


def description() -> list[Message]:
    """Three leads against a common point and three Hall inputs."""
    who = Identity(
        PROTOCOL_MAJOR, PROTOCOL_MINOR, 1, int(TICK_HZ), 3, 3, serial="T-7", plate=PLATE, clock_tolerance_ppm=50.0
    )
    channels = [
        ChannelDescription(
            k, Role.VOLTAGE, f"U {place}", place, "V", SCALE_V, 0.0, -32000, 32000, group=0,
            ticks_per_sample=Fraction(STEP), noise_codes_rms=2.0,
        )
        for k, place in enumerate("UVW")
    ]  # fmt: skip
    inputs = [InputDescription(k, InputKind.HALL, f"Hall {name}", k) for k, name in enumerate("ABC")]
    return [who, *channels, *inputs]


def _stream(
    volts: np.ndarray, ticks: np.ndarray, states: np.ndarray, first_sample: int, sent: int, level: int
) -> tuple[list[Message], int]:
    out: list[Message] = []
    codes = np.rint(volts / SCALE_V).astype("<i2").T.copy()
    words = (codes.view("<u2") ^ WORD_CODING).tobytes()
    done = 0
    for block in range(volts.shape[1] // BLOCK):
        due = (first_sample + (block + 1) * BLOCK) * STEP
        stop = int(np.searchsorted(ticks, due, side="right"))
        if stop > done:
            out.append(Edges(sent + done, tuple(ticks[done:stop].tolist()), bytes(states[done:stop].tolist())))
            level, done = int(states[stop - 1]), stop
        first = first_sample + block * BLOCK
        out.append(Samples(0, 3, first, first * STEP, words[6 * block * BLOCK : 6 * (block + 1) * BLOCK]))
        if block % 20 == 19:
            out.append(Status(due, True, level))
    return out, sent + done
