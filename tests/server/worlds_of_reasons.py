"""Little worlds, each a board that plays something, made so that all that can be doubted or left out is said in one."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from math import pi
from typing import Any

import numpy as np

from firmware_protocol import Role, SampleKind
from simulator.recording import RecordedChannel
from tests.server.bad_supply import RATE_HZ, Floats, Wave, channel, level, sine, stream
from tests.server.tiny_board import CURRENT, PLATE, VOLTAGE, TinyBoard
from tests.server.worlds_of_bridges import bridges, commutations
from tests.server.worlds_of_shafts import (
    FAN,
    FAN_PLATE,
    MAGNET,
    MAGNET_PLATE,
    THREE,
    long,
    shafts_with_counters,
    shafts_with_halls,
    shafts_with_pulses,
    spun,
)

THREE_PLATE = "voltage_v = 400.0\nfrequency_hz = 50.0\ncurrent_a = 3.0\nspeed_rpm = 1420.0\n"


def worlds() -> Iterator[bytes]:
    """The wire bytes of each of them."""
    yield from shafts_with_halls()
    yield from shafts_with_pulses()
    yield from shafts_with_counters()
    yield from fans()
    yield from magnets()
    yield from bridges()
    yield from commutations()
    yield from three_phases()
    yield from slow_boards()
    yield from states()


def fan(volts: Wave, amps: Wave, plate: str = FAN_PLATE, motor: str = FAN, **said: Any) -> bytes:
    cut = said.pop("cut", None)
    return stream(
        motor, channel("supply", volts, 400.0, 1), channel("line", amps, 10.0, 2, **said), plate=plate, cut=cut
    )


def fans() -> Iterator[bytes]:
    yield fan(level(24.0), level(1.0))
    yield fan(level(0.0), sine(1.0))
    yield fan(sine(230.0), level(0.0))
    yield fan(sine(230.0), sine(1.0), plate=FAN_PLATE.replace("current_a = 2.0", "current_a = 1000.0"))
    yield fan(sine(60.0), level(0.0), plate="voltage_v = 230.0\ncurrent_a = 2.0\n")
    yield fan(sine(200.0, 7.0), sine(1.0, 7.0))
    yield fan(sine(200.0, 450.0), sine(1.0, 450.0))
    yield fan(sine(200.0, 3000.0), sine(1.0, 3000.0))
    yield fan(sine(200.0, 16.7), sine(1.0, 16.7))
    yield fan(sine(200.0, 55.0), sine(1.0, 55.0))
    yield fan(sine(230.0), sine(8.0))
    yield fan(sine(230.0), sine(1.0), corner_high_hz=1000.0)
    yield fan(sine(230.0), sine(1.0), cut=slice(500, 520))
    yield fan(sine(230.0), sine(1.0), cut=slice(300, 700))
    yield fan(lambda t: 325 * np.sin(2 * pi * (50 * t + 20 * t * t)), sine(1.0))
    yield fan(lambda t: np.where(t < 0.3, 0.0, sine(230.0)(t)), lambda t: np.where(t < 0.3, 0.0, sine(1.0)(t)))
    yield fan(lambda t: np.where(t < 0.3966, 0.0, sine(230.0)(t)), level(0.0))
    yield fan(sine(230.0), lambda t: sine(1.0)(t) * np.where(t < 0.3, 1.0, 2.0))
    yield fan(inverter, sine(1.0))
    yield stream(FAN, channel("supply", inverter, 400.0, 1, corner_high_hz=4500.0), plate=FAN_PLATE)


def inverter(t: Floats) -> Floats:
    wanted, triangle = 0.8 * np.sin(100 * pi * t), 4 * np.abs((t * 4000.0 + 0.123) % 1 - 0.5) - 1
    return 325.0 * ((wanted > triangle).astype(float) - (-wanted > triangle))


def magnet(volts: Wave, amps: Wave, more: str = "", motor: str = MAGNET, **said: Any) -> bytes:
    shaft = {key: said.pop(key) for key in ("inputs", "edge_times_s", "edge_states") if key in said}
    both = channel("motor", volts, 40.0, 1), channel("motor", amps, 10.0, 2, **said)
    return stream(motor, *both, plate=MAGNET_PLATE + more, **shaft)


def magnets() -> Iterator[bytes]:
    ohm = "winding_resistance_ohm = 0.4\n"
    yield magnet(sine(12.0), sine(2.0))
    yield magnet(level(12.0), level(0.0), ohm, ac_coupled=True)
    yield magnet(level(4.0), level(0.0))
    yield magnet(sine(4.0), level(0.0), "back_emf_constant = 0.03\n")
    yield magnet(level(0.0), level(0.0), ohm)
    yield magnet(level(12.0), level(2.0), ohm + "commutator_bars = 12\n")
    yield magnet(level(12.0), level(2.0), ohm, **spun([0.05 * k for k in range(1, 12)]))
    yield magnet(level(12.0), level(2.0), ohm + "commutator_bars = 512\n")
    yield magnet(level(0.5), level(2.0), ohm, **spun([0.02 * k for k in range(1, 30)]))
    yield magnet(level(12.0), level(2.0), ohm, **spun([0.3 * k for k in range(1, 3)]))
    yield magnet(level(12.0), level(2.0), ohm, **spun([]))
    standing = spun([0.02, 0.04])
    for drop in ("", "brush_drop_v = 7.0\n"):
        yield long("permanent_magnet_dc", MAGNET_PLATE + ohm + drop, level(6.0), level(2.0), standing)
    ripple = level(2.0), lambda t: 2.0 + 0.1 * np.sin(2 * pi * 612.0 * t) + 0.02 * np.sin(2 * pi * 1224.0 * t)
    both = [channel("motor", wave, top, k) for k, (wave, top) in enumerate(zip(ripple, (40.0, 10.0), strict=True))]
    yield stream(MAGNET, *both, plate="current_a = 3.0\ncommutator_bars = 12\npole_pairs = 1\n")
    means = [replace(each, kind=SampleKind.MEAN, kind_s=1 / RATE_HZ) for each in both]
    yield stream(MAGNET, *means, plate=MAGNET_PLATE + ohm, **spun([0.02 * k for k in range(1, 30)]))


def three_lines(volts: float, amps: float, ripple: Sequence[float] = ()) -> list[RecordedChannel]:
    """Voltage and current of each; `ripple`: frequencies in Hz that the current has besides."""
    made = []
    for k in range(3):
        behind = 2 * pi * k / 3
        waves = [sine(amps, behind_rad=behind + 0.6), *(sine(0.02 * amps, hertz) for hertz in ripple)]
        made.append(channel(f"L{k + 1}", sine(volts, behind_rad=behind), 400.0, k))
        made.append(channel(f"L{k + 1}", together(waves), 10.0, 9 + k))
    return made


def together(waves: Sequence[Wave]) -> Wave:
    return lambda t: np.sum([wave(t) for wave in waves], axis=0)


def three_phases() -> Iterator[bytes]:
    slots = THREE_PLATE + "rotor_slots = 28\npole_pairs = 2\n"
    yield stream(THREE, *three_lines(230.0, 2.0), plate=THREE_PLATE)
    yield stream(THREE, *three_lines(230.0, 2.0), plate=slots + "winding_resistance_ohm = 6.0\n")
    yield stream(THREE, *three_lines(230.0, 2.0), plate=THREE_PLATE + "rotor_slots = 900\n")
    yield stream(THREE, *three_lines(230.0, 2.0), plate="current_a = 3.0\nrotor_slots = 28\n")
    yield stream(THREE, *three_lines(0.0, 0.0), plate=THREE_PLATE)
    two_speeds = [28 * turns_per_s + side for turns_per_s in (23.7, 24.4) for side in (-50.0, 50.0)]
    yield stream(THREE, *three_lines(230.0, 2.0, two_speeds), plate=slots)  # as if two shafts fed one line


def slow_boards() -> Iterator[bytes]:
    t = np.arange(40) / 10.0
    for kind, motor in ((SampleKind.INSTANTANEOUS, FAN), (SampleKind.MEAN, MAGNET), (SampleKind.RMS, FAN)):
        volts = RecordedChannel("U", Role.VOLTAGE, "V", -40, 40, 12 + 6 * np.sin(3 * t), "supply", 10, kind=kind)
        amps = RecordedChannel("I", Role.CURRENT, "A", -9, 9, 2 + np.sin(3 * t), "line", 10, kind=kind)
        yield stream(motor, volts, amps, plate=FAN_PLATE)
    warm = RecordedChannel("T", Role.TEMPERATURE, "degC", 0, 50, 60 + 0 * t, "housing", 10)
    single = replace(warm, name="T 2", place="oil", rate_hz=None, times_s=t, interval_max_s=0.2)
    yield stream(FAN, warm, single, plate=FAN_PLATE)
    yield stream(FAN, channel("supply", sine(230.0), 400.0, 1), plate=FAN_PLATE)
    yield stream("", channel("line", lambda t: 1.0 + 0 * t, 10.0, 1, ac_coupled=True))


TURNS = [1.1 + k * 60 / 1400 for k in range(45)]  # of a shaft that stops at 3 s


def held_until(end_s: float) -> tuple[Wave, Wave]:
    """Voltage and current of a motor that starts at 1 s, is held at 3 s and switched off at the end."""

    def amps(t: Floats) -> Floats:
        size = np.select([t < 1.0, t < 1.3, t < 3.0, t < end_s], [0.0, 6.0, 2.0, 6.0], 0.0)
        return size * sine(1.0)(t)

    return lambda t: np.where((t > 1.0) & (t < end_s), sine(230.0)(t), 0.0), amps


def states() -> Iterator[bytes]:
    runs = (1.0, 0.0, 0.0, 0.0), (0.4, 230.0, 1.5, 1400.0), (1.6, 230.0, 0.5, 1400.0)
    held = (0.1, 230.0, 1.5, 0.0), (1.3, 230.0, 1.5, 0.0)
    without = PLATE.replace("locked_rotor_current_a = 1.5\n", "")
    shaded, stepper = without.replace(FAN, "shaded_pole"), without.replace(FAN, "stepper")
    ended = *runs, *held, (1.0, 0.0, 0.0, 0.0)
    lost = *runs, (0.1, 230.0, 0.5, 0.0), (2.0, 230.0, 0.5, 0.0)
    for plate, story in (
        (shaded, ended),
        (without, (*runs, *held, (1.5, 230.0, 0.4, 0.0))),
        (PLATE, lost),
        (PLATE, (*runs, (0.6, 0.0, 0.0, 300.0), (0.3, 0.0, 0.0, 0.0), (1.0, 0.0, 0.0, 0.0))),
        (PLATE, ((1.0, 0.0, 0.0, 0.0), (6.0, 230.0, 0.7, 100.0))),
    ):
        yield TinyBoard(plate=plate).wire(story)
    yield TinyBoard(inputs=()).wire(ended)
    yield long(FAN, FAN_PLATE + "locked_rotor_current_a = 6.0\n", *held_until(4.2), spun(TURNS), seconds=5.0)
    data = TinyBoard().wire(ended)
    yield data[: len(data) // 2] + data[len(data) // 2 + 400 :]
    coil = replace(CURRENT, place="coil 1"), replace(VOLTAGE, place="coil 1")
    yield TinyBoard(channels=coil[::-1], plate=stepper).wire(lost)
    yield TinyBoard(plate=PLATE.replace("current_a = 0.5\n", "")).wire(runs)
    yield TinyBoard(plate="").wire(runs)
    six = PLATE.replace("pole_pairs = 2", "pole_pairs = 3").replace("speed_rpm = 1400.0\n", "")
    yield TinyBoard(plate=six).wire(runs)
