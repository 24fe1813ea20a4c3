"""What a quantity is called, how it is written, what it means and where that comes from. Records only.

Page, API, lines and the documentation (QUANTITIES.md) are made from these entries.
"""

from dataclasses import dataclass

from server.motors import MOTOR_TYPES, Supply

ALTERNATING = tuple(motor.key for motor in MOTOR_TYPES if motor.supply is Supply.ALTERNATING)
SLIPPING = tuple(motor.key for motor in MOTOR_TYPES if motor.has_slip)
BRUSHED = tuple(motor.key for motor in MOTOR_TYPES if motor.has_commutator)
COASTING = tuple(
    motor.key
    for motor in MOTOR_TYPES
    if motor.has_slip or motor.key in ("permanent_magnet_dc", "brushless", "synchronous")
)
THREE_PHASE = tuple(motor.key for motor in MOTOR_TYPES if len(motor.phases) == 3)


@dataclass(frozen=True, slots=True)
class Quantity:
    """One entry of the catalogue. `symbol` may hold one subscript behind an underscore; `unit` is empty for a plain
    number or a word; `digits` are decimals shown where no uncertainty is known.

    `definition` is the formula or rule in words, `source` the standard and clause or the book that it is from. `needs`:
    what the board must measure. `motors`: keys of the types for which it makes sense, empty for all.
    """

    key: str
    symbol: str
    label: str
    unit: str
    digits: int
    definition: str
    source: str
    needs: str
    motors: tuple[str, ...] = ()
