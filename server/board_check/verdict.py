"""What a check says of a board. Records only."""

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

from server.board_check.record import Record


class State(StrEnum):
    PASSED = "passed"
    FAILED = "failed"
    NOT_TRIED = "not tried"


@dataclass(frozen=True, slots=True)
class CheckResult:
    """`what` was seen, in words with figures."""

    state: State
    what: str


@dataclass(frozen=True, slots=True)
class Check:
    """One thing that SPEC.md asks of a board. `mend`: what to do where it fails, and the section that says so."""

    name: str
    judge: Callable[[Record], CheckResult]
    mend: str
    section: int


def passed(what: str) -> CheckResult:
    return CheckResult(State.PASSED, what)


def failed(what: str) -> CheckResult:
    return CheckResult(State.FAILED, what)


def not_tried(why: str) -> CheckResult:
    return CheckResult(State.NOT_TRIED, why)


NO_DESCRIPTION = not_tried("the board has not said what it measures")
NO_ANSWERS = not_tried("nothing was asked of this board")
CHANGED = not_tried("the board described itself anew during the check, as it may: look again")
