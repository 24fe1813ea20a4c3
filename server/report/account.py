"""What was promised by the board's own numbers, what came, what is missing; and what was wrong on the wire. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass

from server.readings import DamageReport
from server.report.report import Account, Damage
from server.samples import Samples

KINDS_MAX = 40


@dataclass(slots=True)
class _Kind:
    times: int = 0
    frames: int = 0
    samples: int = 0
    example: str = ""


class Accounting:
    """Give it what new samples came and what damage was told, in the order of the wire."""

    def __init__(self) -> None:
        self._group: int | None = None
        self._rate_hz = 0.0
        self._first: int | None = None  # sample number at which this start of the board begins
        self._next = 0
        self._promised = self._came = self._missing = 0
        self._starts = 0
        self._kinds: dict[str, _Kind] = {}

    def began(self, group: int | None, rate_hz: float) -> None:
        """The board began to count anew, or was described for the first time; `group`: its fastest one."""
        self._close()
        self._group, self._rate_hz = group, rate_hz

    def take(self, samples: Sequence[Samples]) -> None:
        for each in samples:
            if each.channels[0].group != self._group:
                continue
            if self._first is not None and each.first_sample < self._next:  # its numbers ran backwards
                self._close()
            if self._first is None:
                self._first = self._next = each.first_sample
                self._starts += 1
            self._missing += each.first_sample - self._next
            self._came += each.count
            self._next = each.first_sample + each.count

    def damaged(self, damage: Sequence[DamageReport]) -> None:
        for each in damage:
            if each.kind not in self._kinds and len(self._kinds) >= KINDS_MAX:
                continue
            kind = self._kinds.setdefault(each.kind, _Kind(example=each.text))
            kind.times += 1
            kind.frames += each.frames
            kind.samples += each.samples

    def _close(self) -> None:
        if self._first is not None:
            self._promised += self._next - self._first
        self._first = None

    def account(self) -> Account | None:
        """None where no evenly sampled channel came."""
        self._close()
        if not self._starts:
            return None
        return Account(self._promised, self._came, self._missing, self._starts, self._rate_hz)

    def damage(self) -> tuple[Damage, ...]:
        """What there was most of first."""
        told = sorted(self._kinds.items(), key=lambda each: -each[1].times)
        return tuple(Damage(kind, its.times, its.frames, its.samples, its.example) for kind, its in told)
