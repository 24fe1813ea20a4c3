"""What every motor type answers: which channels are its main ones, what it shows first, what is typical of it.

Holds no figure of any single motor: bands are those of the type, and say where they come from.
"""

from dataclasses import dataclass
from enum import StrEnum


class Supply(StrEnum):
    """What feeds the motor where its main voltage is measured."""

    ALTERNATING = "alternating"
    DIRECT = "direct"


@dataclass(frozen=True, slots=True)
class Band:
    """Lowest and highest usual ratio, and where it was taken from."""

    low: float
    high: float
    source: str


@dataclass(frozen=True, slots=True)
class MotorType:
    """One type of motor.

    The readings of `voltage_place` and `current_place` stand without a place behind their key. `phases` are the
    places of the three conductors of a three-phase machine; where the third current has no channel it is minus the
    sum of the others. `far_line` are the readings seen from across the room, after the run state. `holds`: it draws
    current on purpose while its shaft stands, so current without speed is no stall. `has_commutator`: brushes and bars.
    """

    key: str
    label: str
    supply: Supply
    voltage_place: str
    current_place: str
    far_line: tuple[str, ...]
    has_slip: bool = False
    phases: tuple[str, ...] = ()
    locked_current_ratio: Band | None = None  # locked-rotor current over plate current; None: set by the drive
    holds: bool = False
    has_commutator: bool = False
    speed_ratio: Band | None = None  # slowest under load and fastest without, over plate speed
