"""Shapes of what goes in about the wiring and its guided check, and of the checks that are kept with a run."""

from typing import Annotated, Literal, TypeAlias

from pydantic import BaseModel, Field

from server.procedures.hall_guide import Key
from server.settings.rules import WIRE_MAX
from server.web.settings_models import Line, Strict

Name: TypeAlias = Annotated[Line, Field(max_length=WIRE_MAX)]
Three: TypeAlias = tuple[Name, Name, Name]
NO_NAMES: Three = ("", "", "")
Positive = Annotated[float, Field(gt=0.0, le=1e6, allow_inf_nan=False)]
NotNegative = Annotated[float, Field(ge=0.0, le=1e6, allow_inf_nan=False)]


class NamesIn(Strict):
    """What the person calls the wires on A, B, C and the leads on U, V, W, as they are plugged now."""

    halls: Three = NO_NAMES
    phases: Three = NO_NAMES


class AnswersIn(NamesIn):
    """And what else a step asks for; null: not known. rated_v: of the sensors, supply_v and supply_a as read there."""

    pole_pairs: Annotated[int, Field(ge=1, le=200)] | None = None
    rated_v: Positive | None = None
    rated_a: Positive | None = None
    supply_v: NotNegative | None = None
    supply_a: NotNegative | None = None
    spacing_deg: Literal[60, 120] | None = None


class ActIn(Strict):
    """What a person did in the guided check. showed: of a try; choice: which of the ways to mend it; at: the key of the
    step that it was meant for, at another one it changes nothing; null: whichever is open."""

    act: Literal[
        "begin",
        "leave",
        "agree",
        "answer",
        "counted",
        "tried",
        "mend",
        "moved",
        "accept",
        "short",
        "repeat",
        "back",
        "skip",
    ]
    answers: AnswersIn | None = None
    showed: Literal["well", "reverse", "weak", "stands", "locks"] | None = None
    choice: int = Field(0, ge=0, le=35)
    at: Key | None = None


class KeptCheckOut(BaseModel):
    """A check that was kept: where its page is to be read."""

    run: str
    number: int


class CheckLine(BaseModel):
    """One kept check of a run; word: what would happen; below: what mends it; steps: of the guided check, done."""

    number: int
    kept_utc_s: float
    word: str
    below: str
    steps: int


class DeletedCheckLine(CheckLine):
    """One that was deleted: when, and when it will be removed for good."""

    deleted_utc_s: float
    removed_utc_s: float
