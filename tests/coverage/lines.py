"""Speeds that no sensor tells: from the ripple of a commutator, the slots of a cage, and the EMF while it coasts."""

from functools import partial
from math import exp, lcm, pi, sqrt
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from firmware_protocol import Role
from server.config import Plate
from server.motors import motor_type
from server.quantities import window_readings
from server.readings import Reading
from tests.coverage.channels import Board, Signal, channel_of, clock_of, fineness, level_at
from tests.coverage.told import Told
from tests.coverage.waves import Wave, drawn_wave

Row: TypeAlias = tuple[Role, str, float, Signal]
_LINES = ("L1", "L2", "L3")


def _added(times_s: NDArray[np.float64], wave: Signal, lines: list[tuple[float, float, float]]) -> NDArray[np.float64]:
    """`lines`: RMS, Hz, angle."""
    values = wave(times_s)
    for size, hertz, angle in lines:
        values = values + sqrt(2.0) * size * np.sin(2.0 * pi * hertz * times_s + angle)
    return values


def line_speeds(draw: np.random.Generator, number: int) -> list[Told]:
    """Ripple, slots and EMF in turn."""
    return (_ripple, _slots, _magnets, _coasting, _brushless)[number % 5](draw)


def _told(draw: np.random.Generator, rows: list[Row], key: str, kind: str, plate: Plate, rpm: float) -> list[Told]:
    fine = fineness(draw)
    clock = clock_of(draw, fine)
    board = Board(draw, [channel_of(draw, role, place, size, fine) for role, place, size, _ in rows], clock)
    readings: list[Reading] = window_readings(board.window(draw, [each[3] for each in rows]), motor_type(kind), plate)
    return [Told(f"{each.key}, {kind}", each, rpm) for each in readings if each.key == key]


def _ripple(draw: np.random.Generator) -> list[Told]:
    bars, turns = int(draw.choice((12, 24, 32))), draw.uniform(10.0, 44.0)
    main, size = lcm(bars, 2), draw.uniform(0.005, 0.05)
    orders = ((1, 0.3), (main, 1.0), (2 * main, 0.2))
    lines = [(2.0 * size * share, order * turns, draw.uniform(0.0, 2 * pi)) for order, share in orders]
    current = partial(_added, wave=partial(level_at, level=2.0), lines=lines)
    rows: list[Row] = [
        (Role.VOLTAGE, "motor", 24.0, partial(level_at, level=24.0)),
        (Role.CURRENT, "motor", 2.0, current),
    ]
    plate = Plate(speed_rpm=1800.0, commutator_bars=bars, pole_pairs=1, current_a=2.0, voltage_v=24.0)
    return _told(draw, rows, "ripple_speed_rpm", "permanent_magnet_dc", plate, 60.0 * turns)


def _slots(draw: np.random.Generator) -> list[Told]:
    hertz, pairs, slots = draw.uniform(48.0, 62.0), int(draw.choice((1, 2))), int(draw.choice((28, 34, 44)))
    turns = hertz / pairs * (1.0 - draw.uniform(0.01, 0.08))
    size = draw.uniform(0.005, 0.03)
    lines = [(2.0 * size, slots * turns + side * hertz, draw.uniform(0.0, 2 * pi)) for side in (-1.0, 1.0)]
    rows: list[Row] = []
    for role, rms in ((Role.VOLTAGE, 230.0), (Role.CURRENT, 2.0)):
        for n, place in enumerate(_LINES):
            wave = partial(_clean(draw, rms, -n * 2 * pi / 3).at, hertz=hertz)
            extra = lines if role is Role.CURRENT and n == 0 else []
            rows.append((role, place, rms, partial(_added, wave=wave, lines=extra)))
    plate = Plate(rotor_slots=slots, pole_pairs=pairs, frequency_hz=50.0, current_a=2.0)
    return _told(draw, rows, "slot_speed_rpm", "three_phase_induction", plate, 60.0 * turns)


def _clean(draw: np.random.Generator, size: float, angle: float) -> Wave:
    """A wave whose even orders are small, as a supply's are."""
    wave = drawn_wave(draw, size, angle)
    phasors = wave.phasors.copy()
    phasors[1:] *= 0.2
    return Wave(0.0, phasors)


def _magnets(draw: np.random.Generator) -> list[Told]:
    constant, rpm = draw.uniform(0.04, 0.1), draw.uniform(300.0, 2000.0)
    volts = constant * rpm * pi / 30.0
    rows: list[Row] = [
        (Role.VOLTAGE, "motor", volts, partial(level_at, level=volts)),
        (Role.CURRENT, "motor", 1e-3, partial(level_at, level=0.0)),
    ]
    plate = Plate(voltage_v=volts / draw.uniform(0.1, 0.7), current_a=3.0, back_emf_constant=constant)
    return _told(draw, rows, "emf_speed_rpm", "permanent_magnet_dc", plate, rpm)


def _coasting(draw: np.random.Generator) -> list[Told]:
    hertz, pairs, volts = draw.uniform(20.0, 60.0), int(draw.integers(1, 4)), exp(draw.uniform(3.0, 4.5))
    wave = partial(_clean(draw, volts, 0.0).at, hertz=hertz)
    rows: list[Row] = [
        (Role.VOLTAGE, "supply", volts, wave),
        (Role.CURRENT, "line", 1e-3, partial(level_at, level=0.0)),
    ]
    plate = Plate(voltage_v=230.0, current_a=1.0, pole_pairs=pairs)
    return _told(draw, rows, "emf_speed_rpm", "permanent_split_capacitor", plate, 60.0 * hertz / pairs)


def _brushless(draw: np.random.Generator) -> list[Told]:
    hertz, pairs, volts = exp(draw.uniform(3.0, 6.0)), int(draw.choice((1, 4, 7))), draw.uniform(2.0, 6.0)
    rows: list[Row] = [
        (Role.VOLTAGE, "dc link", 24.0, partial(level_at, level=24.0)),
        (Role.CURRENT, "dc link", 1e-3, partial(level_at, level=0.0)),
    ]
    for n, place in enumerate("UVW"):
        wave = partial(_clean(draw, volts, -n * 2 * pi / 3).at, hertz=hertz)
        rows.append((Role.VOLTAGE, place, 12.0, partial(_added, wave=wave, lines=[])))
    plate = Plate(voltage_v=24.0, current_a=5.0, pole_pairs=pairs)
    return _told(draw, rows, "emf_speed_rpm", "brushless", plate, 60.0 * hertz / pairs)
