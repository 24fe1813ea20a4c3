"""What the service concludes, with its grounds: the record that all verdicts share. Records only; nothing computes.

A verdict answers a question that a person asks. It never stands without the signs that speak for and against it,
with figures, without what is still open, and without what to do next. How sure it is, is said in one of three
words; there is no percentage, for nobody measured one.
"""

from dataclasses import dataclass
from enum import StrEnum
from typing import Any


class Certainty(StrEnum):
    """How plainly the answer is said."""

    PLAIN = "plain"  # the signs suffice
    PROBABLE = "probable"  # they point there, and more of the same would settle it
    OPEN = "open"  # can't be told yet; the next test would tell


class Speaks(StrEnum):
    """Which way a sign points."""

    FOR = "for"
    AGAINST = "against"
    MISSING = "missing"  # would decide, and has not been seen


@dataclass(frozen=True, slots=True)
class Sign:
    """One fact with its figures, in a sentence."""

    speaks: Speaks
    text: str


@dataclass(frozen=True, slots=True)
class NextTest:
    """What to do next. `caution` is shown before it, empty only where nothing is powered, moved or touched."""

    text: str
    caution: str = ""


@dataclass(frozen=True, slots=True)
class Verdict:
    """`key` names the conclusion, `question` is the person's. `open`: what these signals can't tell apart.
    `about`: the wire, phase or sensor that it names, where the same conclusion may be drawn of several."""

    key: str
    question: str
    answer: str
    certainty: Certainty
    signs: tuple[Sign, ...] = ()
    open: tuple[str, ...] = ()
    next_test: NextTest | None = None
    about: str = ""

    def __post_init__(self) -> None:
        if self.certainty is not Certainty.PLAIN and self.next_test is None:
            raise ValueError(f"{self.key}: a verdict that is not plain says what would tell")
        if self.certainty is not Certainty.OPEN and not self.signs:
            raise ValueError(f"{self.key}: an answer stands on signs")


def verdict_of(record: dict[str, Any]) -> Verdict:
    """As it was before it became JSON (`asdict`). Raises LookupError, TypeError and ValueError for what is none."""
    after = record["next_test"]
    return Verdict(
        record["key"],
        record["question"],
        record["answer"],
        Certainty(record["certainty"]),
        tuple(Sign(Speaks(sign["speaks"]), sign["text"]) for sign in record["signs"]),
        tuple(record["open"]),
        None if after is None else NextTest(after["text"], after["caution"]),
        record["about"],
    )
