"""The check over time: several windows must agree before a finding is told, and it is told until as many say otherwise.

What has been told stays through rest: sensors do not move by themselves. Pure; one board with one motor.
"""

from collections.abc import Iterable, Sequence
from dataclasses import replace

from server.connection.check import check_window
from server.connection.finding import Correctness, Finding
from server.connection.fitted import fitted
from server.connection.moment import Story
from server.connection.wirings import Wiring
from server.motors import MotorType
from server.quantities.analysis import Analysis
from server.quantities.machine import MACHINE
from server.quantities.power import POWER
from server.quantities.three_phase import TOGETHER
from server.readings import Reading, doubtful
from server.samples import Channel, Input

AGREE = 3  # windows: 0.6 s of motor on; those that cannot tell do not count (ours)
_POWERS = frozenset(each.key for each in (*POWER, *TOGETHER, *MACHINE) if not each.key.startswith("line_voltage"))


class _Held:
    """One thing: what is told of it, and how many windows have said something else since."""

    def __init__(self, first: Finding) -> None:
        self.told = replace(first, verdict=Correctness.UNKNOWN, doubt="", doubts=()) if _definite(first) else first
        self._next: Finding | None = None
        self._times = 0

    def take(self, finding: Finding) -> None:
        if not _definite(finding):
            if not _definite(self.told):
                self.told = finding
            return
        if _same(finding, self.told):
            self.told = replace(finding, sure=True) if self.told.sure and not finding.sure else finding
            self._next, self._times = None, 0
            return
        if _definite(self.told) and self.told.sure and not finding.sure:
            return  # a motor that is driven looks so too
        self._times = self._times + 1 if self._next is not None and _same(finding, self._next) else 1
        self._next = finding
        if self._times >= AGREE:
            self.told, self._next, self._times = finding, None, 0


class ConnectionCheck:
    """Of one board on one motor, from the first window on. `findings`: what is told now, in reading order."""

    def __init__(self, motor: MotorType, channels: Sequence[Channel], inputs: Iterable[Input]) -> None:
        self._motor = motor
        self._fitted = tuple(fitted(channels, inputs, motor))
        self._story = Story(motor)
        self._fits: tuple[Wiring, ...] = ()  # of three lines, in all windows so far
        self._held: dict[tuple[str, str, str], _Held] = {}
        self.findings: tuple[Finding, ...] = self._fitted

    def take(self, a: Analysis | None, states: tuple[str, ...], readings: Iterable[Reading]) -> None:
        """A window of the main group: its analysis (None: there is none), its run states row by row, its readings."""
        moment = self._story.take(states, {reading.id: reading for reading in readings})
        if a is None:
            return
        findings, self._fits = check_window(a, self._motor, moment, self._fits)
        for finding in findings:
            held = self._held.get(finding.id)
            if held is None:
                held = self._held[finding.id] = _Held(finding)
            held.take(finding)
        self.findings = (*self._fitted, *(held.told for held in self._held.values()))

    @property
    def doubt(self) -> str:
        """Why to doubt what powers add up to, or empty."""
        return next((each.doubt for each in self.findings if each.doubt), "")

    def marked(self, readings: list[Reading]) -> list[Reading]:
        """The readings of a window; powers that rest on what is told to be wrong are doubtful with that reason."""
        doubts = [(each.doubt, each.doubts) for each in self.findings if each.doubt]
        if not doubts:
            return readings
        return [_marked(reading, doubts) if reading.key in _POWERS else reading for reading in readings]


def _marked(reading: Reading, doubts: list[tuple[str, tuple[str, ...]]]) -> Reading:
    for doubt, places in doubts:
        if reading.place in places:
            reading = doubtful(reading, doubt)
    return reading


def _definite(finding: Finding) -> bool:
    return finding.verdict is not Correctness.UNKNOWN


def _same(one: Finding, other: Finding) -> bool:
    """Whether they ask for the same, whatever their figures."""
    return (one.verdict, one.change) == (other.verdict, other.change)
