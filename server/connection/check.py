"""The check of a window: all that its numbers say of how the board is connected. Pure."""

from server.connection.finding import Finding
from server.connection.fitted import channel_findings
from server.connection.moment import Moment
from server.connection.power import power_findings
from server.connection.three import three_findings
from server.connection.wirings import Wiring
from server.motors import MotorType
from server.quantities.analysis import Analysis


def check_window(
    a: Analysis, motor: MotorType, moment: Moment, before: tuple[Wiring, ...] = ()
) -> tuple[list[Finding], tuple[Wiring, ...]]:
    """Findings in reading order, none of a window with a gap; and the wirings of three lines that still fit."""
    if a.partial:
        return [], before
    three, fits = three_findings(a, motor, moment, before)
    paired = any(each.key == "same_phase" for each in three)
    power = power_findings(a, motor, moment, skip=motor.phases if paired else ())
    return [*channel_findings(a, motor, moment), *three, *power], fits
