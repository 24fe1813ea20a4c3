"""What must hold whatever damages the wire: the checks of `test_damage` and of the large proof.

`check` compares a damaged run with the undamaged one of the same board. Its rule: a good reading is that of the
undamaged run, to the last bit; and readings of a window that holds no damaged sample are exactly those of the undamaged
run. What rests on more than its window (shaft and run state) must be so again a stated time after the last damage.
"""

from collections import Counter
from dataclasses import dataclass
from functools import lru_cache
from random import Random

from firmware_protocol import ChannelDescription, Damage, Decoder, Received, Samples
from server.config import RigSettings
from server.pipeline import Pipeline
from server.quantities.commutation import COMMUTATION
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
SHAFT |= {"electrical_frequency_hz", "slip", "run_state", "shaft_torque_estimate_n_m"}
SINCE_START = {"energy_wh", "charge_ah"}  # what was lost since the start is missing in them until the next one
SHAFT |= {"speed_source", "edge_speed_rpm", "angular_acceleration_rad_s2", "mechanical_deg", "steps_in_order_percent"}
SHAFT |= {each.key for each in COMMUTATION}
LAST_STATES = {
    "commutation_valid",
    "steps_in_order_percent",
    "state_order",
    "electrical_deg",
}  # of a shaft that stands: as old as its last edges


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
        for part in pipeline.push(wire[at : at + size], 0.0).parts:
            instants += part.instants
            damage += part.damage
        at += size
    return Ran(tuple(instants), tuple(damage))


def damaged(wire: bytes, seed: int, rates: dict[str, float] = RATES) -> tuple[bytes, Faults]:
    """The stream with faults of this seed: many, some, few in turn, so that much and little is left to confirm.

    The description in front stays whole: without it nothing is said at all.
    """
    faults = Faults(seed, **{kind: rate * (1.0, 0.3, 0.05)[seed % 3] for kind, rate in rates.items()})
    faults.spare(12)  # the longest description of a board here has 11 frames
    return faults.apply(wire) + faults.rest(), faults


@dataclass(frozen=True, slots=True)
class Sets:
    """A block of sample sets as it arrived: how many, and the ticks from the first to the one due behind the last."""

    count: int
    tick: int
    end_tick: int


@lru_cache(maxsize=4)
def sets_of(wire: bytes) -> dict[tuple[int, int], Sets]:
    """Sample sets that arrive whole, by group and first sample: what a decoder makes of a stream."""
    messages = [each.message for each in Decoder().feed(wire) if isinstance(each, Received)]
    every = {each.group: each.ticks_per_sample for each in messages if isinstance(each, ChannelDescription)}
    return {
        (block.group, block.first_sample): Sets(
            block.count, block.tick, block.tick + round(block.count * (every[block.group] or 0))
        )
        for block in messages
        if isinstance(block, Samples)
    }


def check(clean: Ran, hurt: Ran, whole: bytes, wire: bytes, settles_s: float = SETTLES_S) -> Counter[str]:
    """Raises AssertionError with what is wrong; counts the readings by what became of them."""
    before, after = clean.readings, hurt.readings
    seen: Counter[str] = Counter()
    for place, reading in after.items():
        seen[reading.confidence.value] += 1
        if reading.confidence is Confidence.GOOD:
            assert before.get(place) == reading, f"{place} is called good: {reading}, and was {before.get(place)}"
    came = sets_of(wire)
    lost = [(each.tick, each.end_tick) for place, each in sets_of(whole).items() if place not in came]
    harm_s, last_tick = _harm(hurt), max((each.tick for each in hurt.instants), default=0)
    for instant in clean.instants:
        touched = any(tick < instant.tick and end_tick > instant.first_tick for tick, end_tick in lost)
        quiet = not any(instant.board_s - settles_s < s <= instant.board_s + 0.01 for s in harm_s)
        if touched or instant.tick > last_tick:
            continue  # the last window is told by what comes behind it, which may be lost
        rpm = next((each.value for each in instant.readings if each.id == "speed_rpm"), None)
        stands = isinstance(rpm, float) and abs(rpm) < 5.0
        for reading in instant.readings:
            if (reading.key in SHAFT and not quiet) or (reading.key in LAST_STATES and stands):
                continue
            if reading.key in SINCE_START and any(s <= instant.board_s + 0.01 for s in harm_s):
                continue
            became = after.get((instant.tick, reading.id))
            if became is None and instant.first_tick == instant.tick:
                continue  # a single sample that was lost itself
            if reading.confidence is Confidence.DOUBTFUL and became is not None and became.value == reading.value:
                continue  # one more reason for what was doubtful all the same
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
    return max(number + sets.count for (_, number), sets in came.items()) - first


def accounted(hurt: Ran, wire: bytes) -> int:
    """Sets that arrived and sets that are reported missing."""
    missing = sum(each.samples for each in hurt.damage if "channel" not in each.text)
    return sum(sets.count for sets in sets_of(wire).values()) + missing


def findings(wire: bytes) -> Counter[str]:
    """Kinds of damage that the decoder reports."""
    return Counter(each.kind.value for each in Decoder().feed(wire) if isinstance(each, Damage))
