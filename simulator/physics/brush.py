"""What a pair of brushes drops: U_b tanh(i / 0.05 A). May assume a case with `brush_v`."""

from math import tanh
from typing import Any

from simulator.physics.stepping import inlined

BRUSH_A = 0.05


@inlined
def brush_contact(i: float) -> float:
    """-1 to 1; 1 to the last bit from 1 A on."""
    return tanh(i / BRUSH_A) if abs(i) < 1.0 else (1.0 if i > 0.0 else -1.0)


@inlined
def brush_drop(case: Any, i: float) -> tuple[float, float]:
    """The drop in V, and its slope in ohms."""
    contact = brush_contact(i)
    return case.brush_v * contact, case.brush_v * (1.0 - contact * contact) / BRUSH_A
