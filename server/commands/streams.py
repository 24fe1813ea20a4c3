"""The standard streams, also where one was closed before we began, or breaks while we write.

Assumes that nothing else of the command line writes data to standard output. Never ends the process itself.
"""

import os
import sys
from typing import TextIO


class OutputError(Exception):
    """Standard output takes nothing more; the sentence says why. Empty: its reader has had enough."""


def plug() -> None:
    """Lead closed standard streams nowhere; the next file or socket would get their number, and what is said there."""
    for number in range(3):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)  # takes the lowest free number: this one
            os.set_inheritable(number, True)
    sys.stdout = sys.stdout or _nowhere(1)
    sys.stderr = sys.stderr or _nowhere(2)


def write(data: bytes) -> None:
    """Write to standard output, soon. Raises OutputError."""
    try:
        sys.stdout.buffer.write(data)
    except OSError as error:
        raise _given_up(error) from None


def flush() -> None:
    """Write to standard output what has not left yet. Raises OutputError."""
    try:
        sys.stdout.flush()
    except OSError as error:
        raise _given_up(error) from None


def say(sentence: str) -> None:
    """Talk, on standard error; nobody need be there to hear it."""
    try:
        print(sentence, file=sys.stderr, flush=True)
    except OSError:
        _drop(sys.stderr)


def hush() -> None:
    """At the end: what standard error has not taken is left, as it would otherwise change the exit code."""
    try:
        sys.stderr.flush()
    except OSError:
        _drop(sys.stderr)


def _given_up(error: OSError) -> OutputError:
    _drop(sys.stdout)
    if isinstance(error, BrokenPipeError):  # `slipring read FILE | head`
        return OutputError("")
    return OutputError(f"standard output cannot be written ({error.strerror}); what came before may be incomplete.")


def _drop(stream: TextIO) -> None:
    """Lead what is still to be written nowhere: it would be tried again at the end of the process."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, stream.fileno())
    os.close(nowhere)


def _nowhere(number: int) -> TextIO:
    return open(number, "w", encoding="utf-8", closefd=False)  # of the whole process
