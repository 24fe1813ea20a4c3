"""UTC that never steps: a monotonic clock plus an offset taken once. Order and durations hold when others jump."""

import time


def _monotonic_s() -> float:
    """Seconds that also pass while the PC sleeps, where the system has such a clock."""
    clock = getattr(time, "CLOCK_BOOTTIME", None)
    return time.monotonic() if clock is None else time.clock_gettime(clock)


class SteadyClock:
    """One for the whole service, made at its start."""

    def __init__(self) -> None:
        self._offset_s = time.time() - _monotonic_s()

    def utc_s(self) -> float:
        return self._offset_s + _monotonic_s()
