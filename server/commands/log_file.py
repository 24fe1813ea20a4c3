"""What the service says of itself, kept in DATA/log/slipring.jsonl: a line of JSON each, six files of 5 MB at most.

Warnings go to the terminal as before. Where the file cannot be written nothing else suffers: the terminal has it too.
"""

import contextlib
import json
import logging
import sys
from collections.abc import Iterator
from datetime import UTC, datetime
from logging.handlers import RotatingFileHandler
from pathlib import Path

from server import VERSION

FILE = "slipring.jsonl"
BYTES_MAX = 5_000_000  # a file; a fault that is told once a minute fills it in some weeks
OLDER_MAX = 5
log = logging.getLogger(__name__)

_TEXT_MAX = 20_000  # characters of a line's text or trace


class _Lines(logging.Formatter):
    """One line whatever is in it: JSON writes out line ends and escapes of terminals."""

    def format(self, record: logging.LogRecord) -> str:
        at = datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds")
        line = {"at": at, "level": record.levelname.lower(), "from": record.name}
        line["says"] = record.getMessage()[:_TEXT_MAX]
        if record.exc_info:
            line["trace"] = self.formatException(record.exc_info)[-_TEXT_MAX:]
        return json.dumps(line)


class _File(RotatingFileHandler):
    def handleError(self, record: logging.LogRecord) -> None:  # noqa: N802  # its name in the library
        """A full disk: the line stands on the terminal, and the next one is tried again."""


@contextlib.contextmanager
def logged(data: Path) -> Iterator[None]:
    """Keep what is logged meanwhile."""
    root, before = logging.getLogger(), logging.getLogger().level
    handlers: list[logging.Handler] = [logging.StreamHandler(sys.stderr)]
    handlers[0].setLevel(logging.WARNING)
    with contextlib.suppress(OSError):
        (data / "log").mkdir(mode=0o700, exist_ok=True)
        kept = _File(data / "log" / FILE, maxBytes=BYTES_MAX, backupCount=OLDER_MAX, encoding="ascii", delay=True)
        kept.setFormatter(_Lines())
        handlers.append(kept)
    root.setLevel(logging.INFO)
    for handler in handlers:
        root.addHandler(handler)
    log.info("Slipring %s begins", VERSION)
    try:
        yield
    finally:
        log.info("Slipring ends")
        for handler in handlers:
            root.removeHandler(handler)
            handler.close()
        root.setLevel(before)
