"""Where the board's sensors go on each type of motor, what each makes possible, and the cautions that come first.

What may be measured where is common practice (no published source); places are those that layout and software boards
use. Drawings of it are the page's own.
"""

from server.motors.connections.alternating import (
    CAPACITOR_START,
    RUN_CAPACITOR,
    SHADED_POLE,
    SPLIT_PHASE,
    SYNCHRONOUS,
    THREE_PHASE,
    UNIVERSAL,
)
from server.motors.connections.direct import BRUSHLESS, COMPOUND, PERMANENT_MAGNET, SERIES, SERVO, SHUNT, STEPPER
from server.motors.connections.point import Connections, Point, Sensor

__all__ = ["CONNECTIONS", "Connections", "Point", "Sensor"]

CONNECTIONS: dict[str, Connections] = {
    "permanent_split_capacitor": RUN_CAPACITOR,
    "split_phase": SPLIT_PHASE,
    "capacitor_start": CAPACITOR_START,
    "shaded_pole": SHADED_POLE,
    "three_phase_induction": THREE_PHASE,
    "synchronous": SYNCHRONOUS,
    "synchronous_reluctance": SYNCHRONOUS,
    "universal": UNIVERSAL,
    "series_dc": SERIES,
    "shunt_dc": SHUNT,
    "compound_dc": COMPOUND,
    "permanent_magnet_dc": PERMANENT_MAGNET,
    "stepper": STEPPER,
    "servo": SERVO,
    "brushless": BRUSHLESS,
}
