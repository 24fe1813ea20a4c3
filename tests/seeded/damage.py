"""What must hold whatever damages the wire: the checks of `test_damage` and of the large proof.

`check` compares a damaged run with the undamaged one of the same board. Its rule: a good reading is that of the
undamaged run, to the last bit; and readings of a window that holds no damaged sample are exactly those of the undamaged
run. What rests on more than its window (shaft and run state) must be so again a stated time after the last damage.
"""

from collections import Counter
from dataclasses import dataclass
from functools import lru_cache
from random import Random

from firmware_protocol import Damage, Decoder, Received, Samples
from server.config import RigSettings
from server.pipeline import Pipeline
from server.readings import Confidence, DamageReport, Instant, Reading
from simulator.faults import Faults

RATES = {  # chance for each frame; the tiny board sends about 130 frames a second
    "lost_bytes": 0.003,
    "lost_frames": 0.003,
    "flipped": 0.003,
    "doubled": 0.003,
    "merged": 0.003,
    "cut_off": 0.003,
    "late": 0.001,
    "rubbish": 0.003,
}
SETTLES_S = 2.5  # without damage for so long, everything is as if there had been none: a stall from a start takes 1.5 s
SHAFT = {"speed_rpm", "direction", "hall_state", "sector", "electrical_deg", "commutation_valid", "state_order"}
SHAFT |= {"electrical_frequency_hz", "slip", "run_state"}


@dataclass(frozen=True, slots=True)
class Ran:
    """A stream through a pipeline of its own."""

    instants: tuple[Instant, ...]
    damage: tuple[DamageReport, ...]

    @property
    def readings(self) -> dict[tuple[int, str], Reading]:
        return {(each.tick, reading.id): reading for each in self.instants for reading in each.readings}


def ran(wire: bytes, cuts: Random | None = None) -> Ran:
    """Push a stream, whole or in pieces of one byte to some thousand."""
    pipeline = Pipeline(RigSettings("seeded"))
    instants: list[Instant] = []
    damage: list[DamageReport] = []
    at = 0
    while at < len(wire):
        size = len(wire) if cuts is None else cuts.choice((1, 77, 1000, 4000, 16000))
        output = pipeline.push(wire[at : at + size], 0.0)
        instants += output.instants
        damage += output.damage
        at += size
    return Ran(tuple(instants), tuple(damage))


def damaged(wire: bytes, seed: int, rates: dict[str, float] = RATES) -> tuple[bytes, Faults]:
    """The stream with faults of this seed: many, some, few in turn, so that much and little is left to confirm.

    The description in front stays whole: without it nothing is said at all.
    """
    head = 0
    for _ in range(8):
        head = wire.index(b"\0", head) + 1
    faults = Faults(seed, **{kind: rate * (1.0, 0.3, 0.05)[seed % 3] for kind, rate in rates.items()})
    return wire[:head] + faults.apply(wire[head:]) + faults.rest(), faults


@lru_cache(maxsize=4)
def sets_of(wire: bytes) -> dict[tuple[int, int], int]:
    """Sample sets that arrive whole, by group and first sample: what a decoder makes of a stream."""
    found = Decoder().feed(wire)
    blocks = [each.message for each in found if isinstance(each, Received) and isinstance(each.message, Samples)]
    return {(block.group, block.first_sample): block.count for block in blocks}


def check(clean: Ran, hurt: Ran, whole: bytes, wire: bytes) -> Counter[str]:
    """Raises AssertionError with what is wrong; counts the readings by what became of them."""
    before, after = clean.readings, hurt.readings
    came, sent = sets_of(wire), sets_of(whole)
    lost = sorted((first, first + count) for (group, first), count in sent.items() if (group, first) not in came)
    seen: Counter[str] = Counter()
    for place, reading in after.items():
        seen[reading.confidence.value] += 1
        if reading.confidence is Confidence.GOOD:
            assert before.get(place) == reading, f"{place} is called good: {reading}, and was {before.get(place)}"
    harm_s = _harm(hurt)
    for instant in clean.instants:
        touched = any(first * 1000 < instant.tick and end * 1000 > instant.first_tick for first, end in lost)
        quiet = not any(instant.board_s - SETTLES_S < s <= instant.board_s + 0.01 for s in harm_s)
        for reading in instant.readings:
            window_only = reading.key not in SHAFT
            if not (window_only and not touched) and not (quiet and not touched):
                continue
            became = after.get((instant.tick, reading.id))
            if became is None and window_only and len(instant.readings) == 1:
                continue  # a single sample that was lost itself
            if became is None and instant.tick > max((each.tick for each in hurt.instants), default=0):
                continue  # the last window is told by what comes after it, which may be lost
            assert became == reading, f"{instant.board_s} s: {reading} became {became} without damage near it"
            seen["kept"] += 1
    return seen


def _harm(hurt: Ran) -> list[float]:
    """When frames were lost, in board time; each is told with the newest time before it."""
    return [each.board_s or 0.0 for each in hurt.damage if each.kind not in ("doubled", "cut_start")]


def promised(wire: bytes) -> int:
    """Sample sets that the board counted between the first and the last block that arrived."""
    came = sets_of(wire)
    first = min(number for _, number in came)
    return max(number + count for (_, number), count in came.items()) - first


def accounted(hurt: Ran, wire: bytes) -> int:
    """Sets that arrived and sets that are reported missing."""
    missing = sum(each.samples for each in hurt.damage if "channel" not in each.text)
    return sum(sets_of(wire).values()) + missing


def findings(wire: bytes) -> Counter[str]:
    """Kinds of damage that the decoder reports."""
    return Counter(each.kind.value for each in Decoder().feed(wire) if isinstance(each, Damage))
