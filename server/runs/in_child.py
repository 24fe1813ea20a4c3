"""How a program begins that works on a run while the service may be watching a motor: it never stands in the way."""

import os
import threading
from collections.abc import Callable

NICE = 15


def begin_quietly(ending: Callable[[], object] = lambda: None) -> None:
    """Low priority from here on; it ends itself when its standard input closes, however the service ended.

    `ending`: called before that, from another thread.
    """
    if hasattr(os, "nice"):
        os.nice(NICE)
    threading.Thread(target=_end_with_parent, args=(ending,), daemon=True).start()


def _end_with_parent(ending: Callable[[], object]) -> None:
    while os.read(0, 1024):  # not through sys.stdin, whose lock would outlive this program's end
        pass
    ending()
    os._exit(1)
