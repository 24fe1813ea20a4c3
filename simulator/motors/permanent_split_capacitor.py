"""The cabin ventilator: a single-phase induction motor with a run capacitor, a fan on its shaft."""

from simulator.motors.motor import Control, Trace, changed

CONTROLS = (
    Control("supply_on", 0, 0, 1, "line switch; opens at the next zero of the line current"),
    Control("switching_angle_deg", 0, 0, 360, "angle of the voltage when the switch closes, 0 = zero rising"),
    Control("mains_v", 230, 0, 500, "RMS"),
    Control("mains_hz", 50, 1, 400, "supply frequency"),
    Control("load_factor", 1, 0, 10, "fan load as a multiple of the parameters' fan"),
    Control("load_torque_n_m", 0, 0, 100, "dry friction beside the fan: a hand on the hub"),
    Control("jammed", 0, 0, 1, "shaft held still"),
    Control("capacitor_connected", 1, 0, 1, "run capacitor; opens at the next zero of the auxiliary current"),
)


class PermanentSplitCapacitor:
    """One motor at one sample rate."""

    signals = ("supply_v", "capacitor_v", "line_a", "auxiliary_a")
    inputs = ("shaft pulse",)
    controls = CONTROLS

    def __init__(self, rate_hz: float = 20_000.0) -> None:
        self._rate_hz = rate_hz
        self._now = {control.name: control.initial for control in CONTROLS}

    @property
    def state(self) -> int:
        return 1

    def set(self, **controls: float) -> None:
        self._now = changed(self._now, controls, CONTROLS)

    def advance(self, samples: int) -> Trace:
        raise NotImplementedError
