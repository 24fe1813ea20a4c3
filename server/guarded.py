"""Steps that each keep a state of their own, asked one after the other; one that fails is asked no more. Pure."""

from collections.abc import Callable, Iterable
from typing import Any, Generic, TypeAlias, TypeVar

Given = TypeVar("Given")
Made = TypeVar("Made")
Step: TypeAlias = Callable[[Any, Given], tuple[Any, Made]]  # each has a state of its own kind, which starts as None


class Guarded(Generic[Given, Made]):
    """`steps`: what each is called where it fails, and the step itself."""

    def __init__(self, steps: Iterable[tuple[str, Step[Given, Made]]]) -> None:
        self._steps: list[tuple[str, Step[Given, Made], object]] = [(name, step, None) for name, step in steps]

    def step(self, seen: Given, failed: Callable[[str, Exception], object]) -> list[Made]:
        """What each makes of it, in their order; `failed` hears of one that raises."""
        working: list[tuple[str, Step[Given, Made], object]] = []
        made: list[Made] = []
        for name, step, state in self._steps:
            try:
                state, its = step(state, seen)
            except Exception as error:  # whatever it is, the others go on
                failed(name, error)
                continue
            made.append(its)
            working.append((name, step, state))
        self._steps = working
        return made
