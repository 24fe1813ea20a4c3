"""What was wrong on the wire of a run, by kind. Pure."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

from server.readings import DamageReport

KINDS_MAX = 40


@dataclass(slots=True)
class _Kind:
    times: int = 0
    frames: int = 0
    samples: int = 0
    example: str = ""


class DamageByKind:
    """Give it what was told, in the order of the wire."""

    def __init__(self) -> None:
        self._kinds: dict[str, _Kind] = {}

    def take(self, damage: Sequence[DamageReport]) -> None:
        for each in damage:
            if each.kind not in self._kinds and len(self._kinds) >= KINDS_MAX:
                continue
            kind = self._kinds.setdefault(each.kind, _Kind(example=each.text))
            kind.times += 1
            kind.frames += each.frames
            kind.samples += each.samples

    def record(self) -> list[dict[str, Any]]:
        """What there was most of first: `kind`, `times`, `frames`, `samples`, `example`."""
        told = sorted(self._kinds.items(), key=lambda each: -each[1].times)
        return [{"kind": kind, **asdict(its)} for kind, its in told]
