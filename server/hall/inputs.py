"""Which inputs of a board speak of the shaft, and how far one edge turns it."""

from dataclasses import dataclass

from firmware_protocol import InputKind
from server.config import Plate
from server.samples import Input


@dataclass(frozen=True, slots=True)
class Halls:
    """Three Hall sensors, A with the lowest index; `bits` of A, B, C."""

    bits: tuple[int, int, int]
    spacing_deg: int
    pole_pairs: int | None


@dataclass(frozen=True, slots=True)
class Pulse:
    """One input with so many rising edges a turn."""

    bit: int
    pulses_per_turn: int | None


def shaft_inputs(inputs: tuple[Input, ...], plate: Plate) -> Halls | Pulse | None:
    """Three Halls before a pulse sensor before a single Hall, which gives one pulse for each pole pair."""
    halls = sorted((each for each in inputs if each.kind is InputKind.HALL), key=lambda each: each.index)
    if len(halls) >= 3:
        spacing = plate.hall_spacing_deg if plate.hall_spacing_deg in (60, 120) else 120
        return Halls((halls[0].bit, halls[1].bit, halls[2].bit), spacing, plate.pole_pairs)
    pulses = [each for each in inputs if each.kind is InputKind.PULSE]
    if pulses:
        return Pulse(pulses[0].bit, pulses[0].pulses_per_turn)
    return Pulse(halls[0].bit, plate.pole_pairs) if halls else None


def edges_per_turn(inputs: tuple[Input, ...], plate: Plate) -> int:
    """How many edges of the inputs that tell the speed come in a turn of the shaft; 0: none, or it is not known."""
    shaft = shaft_inputs(inputs, plate)
    if isinstance(shaft, Halls):
        return 6 * (shaft.pole_pairs or 0)
    return 0 if shaft is None else shaft.pulses_per_turn or 0
