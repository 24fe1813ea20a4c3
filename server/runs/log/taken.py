"""What the log takes of an entry of a run and of what the pipeline made of it. Pure, and cheap to make and to hold.

Samples, edges and pictures stay outside: what waits to be written must hold no window of samples in memory.
"""

from dataclasses import dataclass

from server.pipeline import Output
from server.readings import Event, Fast, Instant, StateChange
from server.runs.layout import Entry, Kind
from server.stream.clock import Clock
from server.verdict import Verdict

TOLD = (Kind.OPEN, Kind.BEGIN, Kind.SETTINGS, Kind.MARK, Kind.CLOSE, Kind.CALIBRATION)


@dataclass(frozen=True, slots=True)
class Said:
    """What one part of an output said, on its own clock."""

    instants: tuple[Instant, ...]
    rows: tuple[Fast, ...]
    events: tuple[Event, ...]
    verdicts: tuple[Verdict, ...] | None
    clock: Clock

    @property
    def changes(self) -> list[StateChange]:
        """Of the run state."""
        return [change for rows in self.rows for change in rows.changes]


@dataclass(frozen=True, slots=True)
class Taken:
    """One entry. `entry` is kept where it says something in words; `motor_type`: what the readings were made for."""

    entry: Entry | None
    said: tuple[Said, ...]
    motor_type: str = ""

    @property
    def readings(self) -> int:
        """How many it holds: what it takes of memory."""
        return sum(len(instant.readings) for said in self.said for instant in said.instants)

    @property
    def instants(self) -> int:
        return sum(len(said.instants) for said in self.said)

    def without_instants(self) -> "Taken":
        """What is left of it where there is no room: events are few, and each matters."""
        said = tuple(Said((), each.rows, each.events, each.verdicts, each.clock) for each in self.said)
        return Taken(self.entry, said, self.motor_type)


def taken(entry: Entry, output: Output | None, motor_type: str) -> Taken | None:
    """None where there is nothing to log."""
    parts = () if output is None else output.parts
    said = tuple(
        Said(part.instants, part.fast, part.events, part.verdicts, part.clock)
        for part in parts
        if part.instants or part.events or part.verdicts is not None
    )
    told = entry if entry.kind in TOLD else None
    return Taken(told, said, motor_type) if told or said else None
