"""UTC that never steps: a monotonic clock plus an offset taken once. Order and durations hold when others jump."""

import logging
import time

OFF_S = 1.5  # more than a leap second: the PC's clock was wrong when the service began, or is now

log = logging.getLogger(__name__)


def _monotonic_s() -> float:
    """Seconds that also pass while the PC sleeps, where the system has such a clock."""
    clock = getattr(time, "CLOCK_BOOTTIME", None)
    return time.monotonic() if clock is None else time.clock_gettime(clock)


class SteadyClock:
    """One for the whole service, made at its start."""

    def __init__(self) -> None:
        self._offset_s = time.time() - _monotonic_s()
        self._logged = False  # that the PC's clock is another one

    def utc_s(self) -> float:
        return self._offset_s + _monotonic_s()

    @property
    def trouble(self) -> str:
        """Where the PC's clock was set since, what that means and what to do; else empty."""
        off_s = time.time() - self.utc_s()
        if abs(off_s) <= OFF_S:
            return ""
        where = "ahead of" if off_s > 0.0 else "behind"
        return (
            f"the PC's clock is {abs(off_s):.0f} s {where} the service's, which keeps the time of its start in runs and"
            " alarms; start the service again"
        )

    def look(self) -> None:
        """Log it once where the PC's clock was set."""
        said = self.trouble
        if said and not self._logged:
            log.warning("%s", said)
        self._logged = bool(said)
