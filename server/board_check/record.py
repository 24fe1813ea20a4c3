"""What was asked of a board and what it said, phase by phase: all that the checks look at. Records only."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import chain
from typing import TypeVar

from firmware_protocol import (
    ChannelDescription,
    Damage,
    DamageKind,
    Identity,
    InputDescription,
    Message,
    Received,
    understands,
)
from server.stream.describing import Describer, Description

SETTLE, DESCRIBE, STREAM, OTHER = "settling", "Describe", "streaming", "another version"
RUBBISH, BEHIND, STOP, STILL, IDLE, AGAIN = (
    "rubbish",
    "Describe behind rubbish",
    "Stop",
    "rest",
    "asked at rest",
    "Start",
)

DAMAGE_KEPT = 100_000  # messages and damage of a phase; messages beyond it are kept, damage is only counted
_M = TypeVar("_M", bound=Message)


@dataclass(frozen=True, slots=True)
class Heard:
    """A message or damage. `at_s`: when it had arrived, in seconds of one steady clock; None: nobody knows (a file)."""

    at_s: float | None
    item: Received | Damage


@dataclass(slots=True)
class Phase:
    """From one thing that was sent to the next. `sent_s`: when; None where nothing was."""

    name: str
    sent_s: float | None
    heard: list[Heard] = field(default_factory=list)
    beyond: Counter[DamageKind] = field(default_factory=Counter)  # damage that was not kept, for there was too much

    def add(self, heard: Heard) -> None:
        """A line that brings rubbish all the time must not fill the memory."""
        if isinstance(heard.item, Damage) and len(self.heard) >= DAMAGE_KEPT:
            self.beyond[heard.item.kind] += 1
        else:
            self.heard.append(heard)


@dataclass(slots=True)
class Record:
    """A whole talk with a board. `asked_s`: when each clock request left, by its token.

    `bytes_per_s`: what the line carries, None where nothing limits it. `seconds`: how long it was to stream.
    `gone`: the phase in which the line went away, if it did; the phases after it are missing.
    """

    seconds: float
    bytes_per_s: float | None = None
    phases: list[Phase] = field(default_factory=list)
    asked_s: dict[int, float] = field(default_factory=dict)
    answers: bool = True  # the board can be asked: there is a line to it
    gone: str = ""

    def phase(self, name: str) -> Phase:
        """The phase of this name; an empty one where there was none."""
        return next((each for each in self.phases if each.name == name), Phase(name, None))

    def finished(self, name: str) -> bool:
        """This phase was there, from beginning to end, and the board did not start anew in it or before."""
        names = [phase.name for phase in self.phases]
        ended = [names.index(end) for end in (self.gone, self.restarted) if end]
        return name in names and names.index(name) < min(ended, default=len(names))

    @property
    def restarted(self) -> str:
        """The phase in which the board started anew; empty if it did not."""
        boots = {received.boot for _, received in self.received()}
        for phase in self.phases[1:]:
            if any(isinstance(each.item, Received) and each.item.boot not in boots for each in phase.heard):
                return phase.name
        return ""

    def received(self, *names: str, every_start: bool = False) -> list[tuple[float | None, Received]]:
        """Good messages with their arrival, of these phases or of all but the first, in which the line settles.

        Only those of the board's first start in them, if not asked otherwise: what comes after it counts anew.
        """
        return list(self._good(names, every_start))

    def _good(self, names: tuple[str, ...], every_start: bool = False) -> Iterator[tuple[float | None, Received]]:
        boot = next((each.item.boot for each in self._heard(()) if isinstance(each.item, Received)), None)
        for each in self._heard(names):
            if isinstance(each.item, Received) and (every_start or each.item.boot == boot):
                yield each.at_s, each.item

    def damage(self, *names: str) -> Iterator[Damage]:
        for each in self._heard(names):
            if isinstance(each.item, Damage):
                yield each.item

    def lost(self, *names: str) -> bool:
        """Whether frames are missing: then what was in them may be, too, and another check tells of it."""
        return any(each.kind is DamageKind.LOST for each in self.damage(*names))

    def of(self, kind: type[_M], *names: str) -> list[_M]:
        """All messages of one kind."""
        return [each.message for _, each in self._good(names) if isinstance(each.message, kind)]

    def _heard(self, names: tuple[str, ...]) -> Iterator[Heard]:
        wanted = (phase for phase in self.phases if phase.name in names or (not names and phase.name != SETTLE))
        return chain.from_iterable(phase.heard for phase in wanted)

    def descriptions(self) -> Iterator[Description]:
        """Each description that was complete."""
        describer, whole = Describer(), False
        for _, received in self._good(()):
            message = received.message
            if isinstance(message, Identity):
                whole = False
            if isinstance(message, Identity | ChannelDescription | InputDescription) and not whole:
                said = describer.take(message)
                if said is not None and understands(said.identity.major, said.identity.minor):
                    yield said
                    whole = True

    def newest_tick(self, *names: str) -> int:
        """The newest of what was heard; -1 if nothing with a tick was."""
        return max((getattr(each.message, "tick", -1) for _, each in self._good(names)), default=-1)

    @property
    def changed(self) -> bool:
        """The board said another revision of its description: what is judged by the first one cannot be."""
        return len({said.identity.revision for said in self.descriptions()}) > 1

    @property
    def description(self) -> Description | None:
        """The first complete one."""
        return next(self.descriptions(), None)
