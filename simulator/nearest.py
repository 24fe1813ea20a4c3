"""The nearest right name for a wrong one."""

from collections.abc import Iterable
from difflib import get_close_matches


class WrongNameError(ValueError):
    """A person wrote a name that there is not; the sentence says the nearest one."""


def instead(wrong: str, names: Iterable[str]) -> str:
    """What to write in place of a wrong name: the nearest where one is near, else all there are."""
    known = list(names)
    near = get_close_matches(wrong.lower(), [name.lower() for name in known], n=1, cutoff=0.5)
    return f"the nearest is {nearest(wrong, known)!r}" if near else f"there are {', '.join(map(repr, known))}"


def nearest(wrong: str, names: Iterable[str]) -> str:
    """The most similar of `names`, which must not be empty; upper and lower case count alike."""
    by_lower = {name.lower(): name for name in names}
    return by_lower[get_close_matches(wrong.lower(), by_lower, n=1, cutoff=0.0)[0]]
