"""How a program begins that works on a run while the service may be watching a motor: it never stands in the way."""

import os
import threading

NICE = 15


def begin_quietly() -> None:
    """Low priority from here on; it ends itself when its standard input closes, however the service ended."""
    if hasattr(os, "nice"):
        os.nice(NICE)
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    while os.read(0, 1024):  # not through sys.stdin, whose lock would outlive this program's end
        pass
    os._exit(1)
