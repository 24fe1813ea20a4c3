"""The check of a window: all that its numbers say of how the board is connected. Pure; nothing is carried over."""

from server.connection.finding import Finding
from server.connection.fitted import channel_findings
from server.connection.moment import Moment
from server.connection.power import power_findings
from server.connection.three import three_findings
from server.motors import MotorType
from server.quantities.analysis import Analysis


def check_window(a: Analysis, motor: MotorType, moment: Moment) -> list[Finding]:
    """Findings in reading order. None of a window with a gap: it is not asked."""
    if a.partial:
        return []
    findings = channel_findings(a, motor, moment)
    three = three_findings(a, motor, moment)
    return findings + three + power_findings(a, motor, moment, skip=motor.phases if three else ())
