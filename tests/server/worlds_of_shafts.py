"""Little worlds of shafts: Hall signals, pulses and counters, and what can be doubted or left out of them."""

from collections.abc import Iterator
from typing import Any

import numpy as np

from firmware_protocol import InputDescription, InputKind, Role, Status
from simulator.recording import RecordedChannel
from tests.server import counted
from tests.server.bad_supply import Wave, level, sine, stream
from tests.server.counted import Word
from tests.server.hall.shafts import FORWARD_120, pulses, turning
from tests.server.pipelines import wire
from tests.server.tiny_board import PLATE, TinyBoard

FAN, MAGNET, BRUSHLESS, THREE = (
    *("permanent_split_capacitor", "permanent_magnet_dc"),
    *("brushless", "three_phase_induction"),
)
FAN_PLATE = "voltage_v = 230.0\nfrequency_hz = 50.0\ncurrent_a = 2.0\nspeed_rpm = 1400.0\npole_pairs = 2\n"
MAGNET_PLATE = "voltage_v = 12.0\ncurrent_a = 3.0\nspeed_rpm = 3000.0\n"
HALLS = tuple(InputDescription(k, InputKind.HALL, f"Hall {name}", k) for k, name in enumerate("ABC"))
Edges = list[tuple[int, int]]


def long(motor: str, plate: str, volts: Wave, amps: Wave, shaft: dict[str, Any], seconds: float = 4.0) -> bytes:
    """Slowly sampled, so that seconds of it cost little."""
    t = np.arange(round(1000 * seconds)) / 1000.0
    both = [
        RecordedChannel(f"{name} x", role, unit, -top, top, wave(t), place=place, rate_hz=1000, noise_rms=top * 5e-5)
        for name, role, unit, top, wave, place in (
            ("U", Role.VOLTAGE, "V", 400.0, volts, VOLTAGES.get(motor, "supply")),
            ("I", Role.CURRENT, "A", 10.0, amps, CURRENTS.get(motor, "line")),
        )
    ]
    return stream(motor, *both, plate=plate, **shaft)


VOLTAGES = {MAGNET: "motor", BRUSHLESS: "dc link", "stepper": "coil 1", "servo": "bridge"}
CURRENTS = {MAGNET: "motor", BRUSHLESS: "dc link", "stepper": "coil 1", "servo": "motor"}


def spun(times_s: list[float], pulses_per_turn: int | None = 1) -> dict[str, Any]:
    shaft = InputDescription(0, InputKind.PULSE, "shaft", 0, pulses_per_turn)
    edges = pulses(times_s)
    return {
        "inputs": (shaft,),
        "edge_times_s": np.array([tick * 1e-6 for tick, _ in edges]),
        "edge_states": np.array([state for _, state in edges], dtype=np.uint8),
    }


def halls(edges: Edges, before: int = 4) -> dict[str, Any]:
    return {
        "inputs": HALLS,
        "edge_times_s": np.array([tick * 1e-6 for tick, _ in edges]),
        "edge_states": np.array([state for _, state in edges], dtype=np.uint8),
        "levels_before": before,
    }


def shafts_with_halls() -> Iterator[bytes]:
    def at(ms: int, *states: int, step_ms: int = 20) -> Edges:
        return [(1000 * (ms + k * step_ms), state) for k, state in enumerate(states)]

    forward = tuple(FORWARD_120) * 4
    stories: list[Edges] = [
        [],
        at(100, 5),
        at(100, 5, 1, 5, 1, 5, 1, step_ms=150),
        [*turning(600.0, 2, 60), *at(520, 6)],
        at(100, *(5, 6, 1, 3, 2, 4) * 8),
        [*turning(100.0, 2, 12), *at(580, 5, 1, 3, step_ms=8)],
        at(100, *forward[:10], 3, 2),
        at(100, *forward[:4], 6, 2, 5, 3, 4, 1, 5, 6, 3, 4, 2, 5),
        at(100, *forward[:9], 7, step_ms=30),
        [(round(1e6 * 1.2 * (k / 90) ** 0.5), forward[k % 6]) for k in range(1, 90)],
        [(round(1e6 * 1.3 * (1 - (1 - k / 80) ** 0.5)), forward[k % 6]) for k in range(1, 80)],
        turning(600.0, 2, 50),
        turning(60.0, 2, 14),
        turning(200.0, 2, 48),
        at(560, *forward[:14], step_ms=60),
        at(500, *forward[:3], step_ms=200),
    ]
    for edges in stories:
        yield long(BRUSHLESS, "pole_pairs = 2\n", level(36.0), level(1.0), halls(edges), seconds=1.5)
    rated = "pole_pairs = 2\ncurrent_a = 1.0\n"
    yield long(BRUSHLESS, rated, level(36.0), level(1.0), halls(turning(600.0, 2, 110)), seconds=3.0)
    yield long(BRUSHLESS, "", level(36.0), level(1.0), halls(turning(600.0, 2, 60)), seconds=1.0)
    yield low_sensor_supply()
    three = TinyBoard(inputs=HALLS, plate=PLATE.replace(FAN, BRUSHLESS))
    yield wire([each for each in three.messages(((0.6, 230.0, 0.5, 0.0),)) if not isinstance(each, Status)])
    torn = three.wire(((2.0, 230.0, 0.5, 300.0),))
    yield torn[: len(torn) // 2] + torn[len(torn) // 2 + 900 :]


def low_sensor_supply() -> bytes:
    """The sensors have less than they need, measured beside the link."""
    t = np.arange(1000) / 1000.0
    rows = (
        ("U", Role.VOLTAGE, "V", 100.0, level(36.0), "dc link"),
        ("I", Role.CURRENT, "A", 10.0, level(1.0), "dc link"),
        ("S", Role.VOLTAGE, "V", 10.0, level(3.9), "sensor supply"),
    )
    both = [
        RecordedChannel(f"{name} x", role, unit, -top, top, wave(t), place=place, rate_hz=1000, noise_rms=top * 5e-5)
        for name, role, unit, top, wave, place in rows
    ]
    return stream(BRUSHLESS, *both, plate="pole_pairs = 2\n", **halls(turning(600.0, 2, 60)))


def shafts_with_pulses() -> Iterator[bytes]:
    for times_s, per_turn in (
        ([], 1),
        ([0.7, 0.9], 1),
        ([0.1, 0.2, 0.3, 0.9, 1.1], 1),
        ([0.1, 0.4, 0.7, 0.95, 0.99], 1),
        ([0.05 * k for k in range(1, 25)], 1),
        ([0.01 * k for k in range(1, 130)], 3),
        ([0.09 * k for k in range(1, 15)], 1),
        ([0.1, 0.2, 0.95], 40),
        ([0.2 + 1.1 * (k / 60) ** 0.5 for k in range(1, 60)], 1),
        ([0.1, 0.2], None),
    ):
        yield long(FAN, FAN_PLATE, sine(230.0), sine(1.0), spun(times_s, per_turn), seconds=1.4)


def shafts_with_counters() -> Iterator[bytes]:
    def told(words: list[Word], per_turn: int | None = 60, seconds: float = 1.0) -> bytes:
        return wire(counted.told(counted.board(per_turn), ((seconds, 230.0, 0.5, 0.0),), words))

    runs, begun = counted.words(1400.0, 60, 500_000), (0, 7, 0)
    yield told([])
    yield told(runs, None)
    yield told(runs, seconds=3.0)
    yield told([begun, (500_000, 8, 490_000)], seconds=1.5)
    yield told([*runs, (500_000, 3, 490_000), (550_000, 73, 540_000)])
    yield told([*runs, (580_000, 3, 570_000)])
    for first, then in ((100_000, 500_000), (400_000, 700_000), (100_000, 420_000)):
        its = [(0, 1, 1), (first + 10_000, 2, first), (then + 10_000, 3, then)]
        yield told(its, 1)
        yield told(its[1:], 1)
    yield told([(0, 1, 1), (100_000, 2, 90_000), *((k * 900_000, 2, 90_000) for k in range(1, 4))], 1, 3.0)
    yield told([(0, 1, 1), *((k * 900_000, 1, 1) for k in range(1, 16)), (14_000_000, 2, 13_900_000)], 1, 14.4)
