"""How a program begins that works on a run while the service may be watching a motor: it never stands in the way.

And how it tells how far it is: a share from 0 to 1 a line, on standard output.
"""

import os
import threading
from collections.abc import Callable
from contextlib import suppress
from math import isfinite
from pathlib import Path

NICE = 15
STEP = 0.01  # of the whole: less is not told


def begin_quietly(ending: Callable[[], object] = lambda: None) -> None:
    """Low priority from here on; it ends itself when its standard input closes, however the service ended.

    `ending`: called before that, from another thread.
    """
    if hasattr(os, "nice"):
        _lower_the_session(os.nice(NICE))
    threading.Thread(target=_end_with_parent, args=(ending,), daemon=True).start()


def _lower_the_session(nice: int) -> None:
    """Linux may weigh sessions against one another, and a program's priority only within its own."""
    if os.getsid(0) == os.getpid():
        with suppress(OSError):  # it does not, or lets nobody say so
            Path("/proc/self/autogroup").write_text(str(nice))


def telling(from_utc_s: float, to_utc_s: float) -> Callable[[float], None]:
    """To be called with the time of what is played of a run from here to there: tells the share."""
    told = -STEP

    def played(utc_s: float) -> None:
        nonlocal told
        if not isfinite(utc_s):
            return
        share = min(max((utc_s - from_utc_s) / max(to_utc_s - from_utc_s, 1.0), 0.0), 1.0)
        if share >= told + STEP:
            told = share
            print(f"{share:.3f}", flush=True)

    return played


def _end_with_parent(ending: Callable[[], object]) -> None:
    while os.read(0, 1024):  # not through sys.stdin, whose lock would outlive this program's end
        pass
    ending()
    os._exit(1)
