"""The nearest right name for a wrong one."""

from collections.abc import Iterable
from difflib import get_close_matches


class WrongNameError(ValueError):
    """A person wrote a name that there is not; the sentence says the nearest one."""


def nearest(wrong: str, names: Iterable[str]) -> str:
    """The most similar of `names`, which must not be empty; upper and lower case count alike."""
    by_lower = {name.lower(): name for name in names}
    return by_lower[get_close_matches(wrong.lower(), by_lower, n=1, cutoff=0.0)[0]]
