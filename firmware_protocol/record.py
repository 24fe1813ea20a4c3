"""Records of which many are made a second."""

from dataclasses import dataclass
from typing import TypeVar, dataclass_transform

_T = TypeVar("_T")


@dataclass_transform(frozen_default=True)
def record(cls: type[_T]) -> type[_T]:
    """A frozen dataclass to the type checker, which refuses to change one; at run time nothing watches over that.

    Making one takes a quarter of the time of a frozen dataclass, and less than a tuple with names.
    """
    return dataclass(slots=True, unsafe_hash=True)(cls)
