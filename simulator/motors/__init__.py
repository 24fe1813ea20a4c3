"""Physical models, one file per motor type; a type's name is the same in the service's settings."""

from collections.abc import Callable

from simulator.motors.brushless import Brushless
from simulator.motors.motor import Motor
from simulator.motors.permanent_split_capacitor import PermanentSplitCapacitor

MOTORS: dict[str, Callable[..., Motor]] = {
    "permanent_split_capacitor": PermanentSplitCapacitor,
    "brushless": Brushless,
}
