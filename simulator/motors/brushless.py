"""The tender thruster: brushless, three Hall sensors, six-step bridge on a DC link."""

from math import inf

from simulator.motors.motor import Control, Trace, changed

CONTROLS = (
    Control("supply_on", 0, 0, 1, "source of the DC link; off: the bridge is off too, and the shaft coasts"),
    Control("duty", 0, 0, 1, "share of the link voltage on the driven pair, as an average"),
    Control("direction", 1, -1, 1, "1 forward, -1 reverse"),
    Control("load_torque_n_m", 0, 0, 100, "load that opposes the motion"),
    Control("jammed", 0, 0, 1, "shaft held still"),
    Control("current_limit_a", inf, 0, inf, "the drive lowers its duty to hold the current of the driven pair"),
)


class Brushless:
    """One motor at one sample rate."""

    signals = ("u_v", "v_v", "w_v", "dc_link_v", "u_a", "v_a", "dc_link_a")
    inputs = ("Hall A", "Hall B", "Hall C")
    controls = CONTROLS

    def __init__(self, rate_hz: float = 20_000.0) -> None:
        self._rate_hz = rate_hz
        self._now = {control.name: control.initial for control in CONTROLS}

    @property
    def state(self) -> int:
        return 5

    def set(self, **controls: float) -> None:
        self._now = changed(self._now, controls, CONTROLS)

    def advance(self, samples: int) -> Trace:
        raise NotImplementedError
