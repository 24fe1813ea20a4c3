"""Three wires measured by fewer channels: the third current is minus the two others, a star is made of voltages between
lines. Each channel is off by the same in all that is made of it.
"""

from functools import partial
from math import exp, pi, sqrt

import numpy as np

from firmware_protocol import Role
from server.config import Plate
from server.motors import motor_type
from server.quantities import window_readings
from tests.coverage.channels import Board, channel_of, clock_of, fineness
from tests.coverage.told import Told, Truth
from tests.coverage.truths import angles, three
from tests.coverage.waves import Wave, drawn_wave

_LINES = ("L1", "L2", "L3")
_BETWEEN = (("L1-L2", 0, 1), ("L2-L3", 1, 2), ("L3-L1", 2, 0))
_MADE = ("L3", "star L1", "star L2", "star L3")


def made(draw: np.random.Generator, number: int) -> list[Told]:
    """Three voltages against the star point and two currents; two or three voltages between lines and two or three
    currents."""
    star, few_volts, few_amps = number % 3 == 0, number % 2 == 0, number % 3 != 1 or bool(number % 2)
    hertz, volts, angle = draw.uniform(45.0, 66.0), draw.uniform(20.0, 300.0), draw.uniform(-1.5, 1.5)
    amps = exp(draw.uniform(-1.5, 2.0))
    phases, currents = _three(draw, volts, 0.0), _three(draw, amps, -angle)
    measured = [(Role.VOLTAGE, line, volts, wave) for line, wave in zip(_LINES, phases, strict=True)]
    if not star:
        every = [
            (Role.VOLTAGE, name, sqrt(3.0) * volts, _sum((phases[one], 1.0), (phases[other], -1.0)))
            for name, one, other in _BETWEEN
        ]
        measured = every[: 2 if few_volts else 3]
    its = list(zip(_LINES, currents, strict=True))
    measured += [(Role.CURRENT, line, amps, wave) for line, wave in its[: 2 if few_amps else 3]]
    fine = fineness(draw)
    clock = clock_of(draw, fine)
    board = Board(draw, [channel_of(draw, role, place, size, fine) for role, place, size, _ in measured], clock)
    window = board.window(draw, [partial(wave.at, hertz=hertz) for *_, wave in measured])
    truths = _without_zero(_truths(phases, currents, measured[0][3], star))
    readings = window_readings(window, motor_type("three_phase_induction"), Plate(pole_pairs=2))
    return [
        Told(f"{each.key}{', made' if each.place in _MADE else ''}", each, truths[each.id])
        for each in readings
        if each.id in truths
    ]


def _three(draw: np.random.Generator, size: float, angle: float) -> list[Wave]:
    """That add up to nothing."""
    one, two = (drawn_wave(draw, size * (1.0 + draw.normal(0.0, 0.05)), angle - n * 2 * pi / 3) for n in (0, 1))
    return [one, two, _sum((one, -1.0), (two, -1.0))]


def _sum(*terms: tuple[Wave, float]) -> Wave:
    return Wave(sum(w * wave.mean for wave, w in terms), np.sum([w * wave.phasors for wave, w in terms], axis=0))


def _truths(phases: list[Wave], currents: list[Wave], main: Wave, star: bool) -> dict[str, Truth]:
    """Of a star that is made the voltages have places of their own, and the main one is that between two lines."""
    truths: dict[str, Truth] = {**three(phases, currents)}
    found = angles(currents, "current", main) | angles(phases, "voltage", main)
    if star:
        return truths | found
    own = [key for key in truths if key.startswith("voltage_") and (key.endswith((".L2", ".L3")) or "." not in key)]
    whole = ("sequence", "unbalance", "deviation")
    moved: dict[str, Truth] = {}
    for key in own:
        if any(each in key for each in whole):
            continue
        base, _, place = key.partition(".")
        moved[f"{base}.star {place or 'L1'}"] = truths.pop(key)
    turned = {
        (f"voltage_angle_deg.star {key.partition('.')[2] or 'L1'}" if key.startswith("voltage") else key): value
        for key, value in found.items()
    }
    return truths | moved | turned


def _without_zero(truths: dict[str, Truth]) -> dict[str, Truth]:
    """Of a star or a third current that is made it is 0 by definition."""
    return {key: value for key, value in truths.items() if "zero_sequence" not in key}
