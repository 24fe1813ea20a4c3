"""What a guided check remembers, sees and is told: records only."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from types import MappingProxyType

from server.procedures.hall_guide import Key
from server.wiring.grounds import Grounds
from server.wiring.names import UNNAMED, Names
from server.wiring.order import Judged
from server.wiring.trying import Showed, Try


class Act(StrEnum):
    """What a person does, beside turning the shaft."""

    AGREE = "agree"  # the cautions of this step were seen
    ANSWER = "answer"  # what was asked is in `Answers`
    COUNTED = "counted"  # one marked turn was made
    TRIED = "tried"  # an order of the leads was tried: `showed`
    MEND = "mend"  # another of the ways to mend it, `choice`
    MOVED = "moved"  # the plugs were moved
    ACCEPT = "accept"  # go on although it says otherwise, where that is offered
    SHORT = "short"  # all is connected: the steps from Levels to Timing in one
    REPEAT = "repeat"
    BACK = "back"
    SKIP = "skip"


@dataclass(frozen=True, slots=True)
class Answers:
    """What a person says, or the plate where no person did. Names of wires by the place that they have now; `rated_v`,
    `rated_a`: of the sensors and of the motor; `supply_v`, `supply_a`: read from the sensor supply; `spacing_deg` of
    the sensors, None as the plate says."""

    names: Names = UNNAMED
    pole_pairs: int | None = None
    rated_v: float | None = None
    rated_a: float | None = None
    supply_v: float | None = None
    supply_a: float | None = None
    spacing_deg: int | None = None


@dataclass(frozen=True, slots=True)
class Told:
    """An act with what belongs to it. `at`: the step that it was meant for, None: whichever is open."""

    act: Act
    answers: Answers | None = None
    showed: Showed | None = None
    choice: int = 0
    at: Key | None = None


@dataclass(frozen=True, slots=True)
class Observation:
    """What is seen now. `grounds`: since the stretch number `opening` was begun; None: nothing came. `probed`: the
    board measures the leads' voltages. `still_s`: since the last edge; `sector` where the shaft is, 0 not known;
    `run_state`, `direction` (+1, -1, 0), `speed_rpm`, `current_a` (mean of the supply) as read, None where not known;
    `sensor_v`, `sensor_a`: of the sensor supply, where the board measures it."""

    grounds: Grounds | None = None
    opening: int = 0
    probed: bool = True
    still_s: float = 0.0
    sector: int = 0
    run_state: str = ""
    direction: int = 0
    speed_rpm: float | None = None
    current_a: float | None = None
    sensor_v: float | None = None
    sensor_a: float | None = None


@dataclass(frozen=True, slots=True)
class Found:
    """What a step found; not `passed`: it was skipped, or gone on from although it said otherwise. `odd`: what it found
    is wrong with the wires, and a later step mends it."""

    passed: bool
    text: str
    odd: bool = False


@dataclass(frozen=True, slots=True)
class Ran:
    """Sums over a row of windows in which it ran one way at a steady speed."""

    windows: int = 0
    rpm: float = 0.0
    amps: float = 0.0

    @property
    def mean_rpm(self) -> float:
        return self.rpm / self.windows

    @property
    def mean_a(self) -> float:
        return self.amps / self.windows


@dataclass(frozen=True, slots=True)
class State:
    """Where a check is. `opening` counts how often a stretch must begin anew; `agreed`: the cautions of the step were
    seen, `agreed_to` all texts that were. `forward`: the sense of the states when it was turned forward, 0 not known.
    `judged`: what the match said; `mend`: which way to mend it was chosen; `moved`: the plugs were. `counts`: edges of
    marked turns. `rest_sector`: where it
    stood last, `began`, `refused`: sectors from which it started, and did not. `ran`: by direction."""

    at: Key = Key.PLATE
    opening: int = 0
    agreed: bool = True
    agreed_to: frozenset[str] = frozenset()
    short: bool = False
    answers: Answers = Answers()
    answered: bool = False  # at this step
    found: Mapping[Key, Found] = field(default_factory=lambda: MappingProxyType({}))
    forward: int = 0
    counts: tuple[int, ...] = ()
    tries: tuple[Try, ...] = ()
    judged: Judged | None = None
    mend: int = 0
    moved: bool = False
    rest_sector: int = 0
    began: frozenset[int] = frozenset()
    refused: frozenset[int] = frozenset()
    ran: Mapping[int, Ran] = field(default_factory=lambda: MappingProxyType({}))
    done: bool = False


@dataclass(frozen=True, slots=True)
class StepStands:
    """How a step stands. `says`: what is seen now; `missing`: what would pass it; `done` of `of`, 0 of 0 where nothing
    is counted; `offers`: words for going on all the same, or empty; `odd`: it says otherwise than it should."""

    passed: bool
    says: str
    missing: str = ""
    done: int = 0
    of: int = 0
    offers: str = ""
    odd: bool = False
