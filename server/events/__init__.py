"""Events: moments at which something happened. One file per kind; DETECTORS is the whole list, in reading order."""

from server.events.auxiliary import AUXILIARY
from server.events.block import Block, Detector
from server.events.hall_states import HALL_STATES
from server.events.load_step import LOAD_STEP
from server.events.losses import CLIPPING, GAP
from server.events.power_off import POWER_OFF
from server.events.power_on import POWER_ON
from server.events.reversed import REVERSED
from server.events.running import RUNNING
from server.events.state_changes import STATE_CHANGES
from server.events.voltage import VOLTAGE

DETECTORS: tuple[Detector, ...] = (
    POWER_ON,
    POWER_OFF,
    RUNNING,
    STATE_CHANGES,
    REVERSED,
    HALL_STATES,
    LOAD_STEP,
    AUXILIARY,
    VOLTAGE,
    GAP,
    CLIPPING,
)

__all__ = ["DETECTORS", "Block", "Detector"]
