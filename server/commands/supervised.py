"""The service's words to systemd, which starts it, watches it and starts it again (sd_notify(3), from memory).

A loop that hangs sends no sign, and systemd then ends the process. Without systemd nothing is said.
"""

import asyncio
import contextlib
import os
import socket

SIGNS_IN_TIME = 3  # signs of life in the time after which systemd gives the service up: two may be late


def is_supervised() -> bool:
    """Whether nobody need be there: whoever started the service starts it again."""
    return bool(os.environ.get("NOTIFY_SOCKET"))


def tell(words: str) -> None:
    """Such as READY=1. What cannot be told is not: nobody listens then."""
    address = os.environ.get("NOTIFY_SOCKET", "")
    if not address or not hasattr(socket, "AF_UNIX"):
        return
    with contextlib.suppress(OSError), socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as told:
        told.setblocking(False)
        told.sendto(words.encode(), f"\0{address[1:]}" if address.startswith("@") else address)


def watched_s() -> float | None:
    """After how long without a sign the service is given up; None: nobody watches it."""
    try:
        meant = int(os.environ.get("WATCHDOG_PID", os.getpid())) == os.getpid()
        return int(os.environ["WATCHDOG_USEC"]) / 1e6 if meant else None
    except (KeyError, ValueError):
        return None


async def show_life() -> None:
    """Signs of life from the loop that all rigs and pages hang on, until it is cancelled."""
    limit_s = watched_s()
    while limit_s:
        tell("WATCHDOG=1")
        await asyncio.sleep(limit_s / SIGNS_IN_TIME)
