"""Energy of a cycle, from the reading that sums it up window after window. Pure."""

from dataclasses import dataclass
from math import hypot

from server.duty.cycle import Bound, Figure
from server.quantities.reasons import joined
from server.readings import Reading

_NONE = "no channels of voltage and current of the same conductor"
_HEADLESS = "its start was not seen"


@dataclass(frozen=True, slots=True)
class Spent:
    """`base`: of sums that ended within the cycle, as when it is reversed; `last`: the newest of the one under way."""

    base: Figure | None = None
    last: Figure | None = None

    def take(self, reading: Reading | None) -> "Spent":
        """With the sum up to one window later."""
        if reading is None or not isinstance(reading.value, float):
            return self
        half = None if reading.uncertainty is None else reading.uncertainty.half
        return Spent(self.base, Figure(reading.value, half, reading.reason))

    def begins_anew(self) -> "Spent":
        """The sum of the reading starts at nothing."""
        return Spent(self.whole(), None)

    def whole(self) -> Figure | None:
        if self.base is None or self.last is None:
            return self.base or self.last
        halves = self.base.half, self.last.half
        half = None if halves[0] is None or halves[1] is None else hypot(halves[0], halves[1])
        value = (self.base.value or 0.0) + (self.last.value or 0.0)
        return Figure(value, half, joined(self.base.reason, self.last.reason))

    def figure(self, start_seen: bool, missing: bool) -> Figure:
        """`missing`: samples are, so that there was more."""
        whole = self.whole()
        if whole is None:
            return Figure(None, reason=_NONE if start_seen else _HEADLESS)
        reason = joined(whole.reason, "" if start_seen else _HEADLESS)
        bound = Bound.LEAST if missing or not start_seen else Bound.NONE
        return Figure(whole.value, None if reason else whole.half, reason, bound)
