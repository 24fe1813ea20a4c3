"""Who has come in: browsers of this PC and paired devices, kept in a file of the data folder, by digest only.

A session ends when a person ends it or when it was not used for 30 days; whoever is connected by it hears of that at
once. The file is its owner's alone, and no token can be made from it.
"""

import itertools
import json
import logging
import secrets
import unicodedata
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from server.access.links import SECRET_BYTES, digest
from server.access.permission import Kind
from server.data_folder import is_private
from server.whole_file import replace_file

UNUSED_S = 30 * 86_400.0
NOTED_EVERY_S = 3600.0  # how finely the file knows when a session was used last
BROWSERS_MAX = 32  # the one that was not used for longest gives way
DEVICES_MAX = 16
NAME_MAX = 40
_KEPT = ("number", "kind", "name", "source", "made_utc_s", "used_utc_s", "digest")

log = logging.getLogger(__name__)


class TooManyDevicesError(Exception):
    """No more can be paired; the sentence says what to do."""


class NotKeptError(Exception):
    """What was changed holds until the service ends, but could not be written; the sentence says why."""


@dataclass(slots=True, eq=False)
class Session:
    """One browser or device. `source`: the address that it used last."""

    number: int
    kind: Kind
    name: str
    source: str
    made_utc_s: float
    used_utc_s: float
    digest: str = field(repr=False)
    noted_utc_s: float = 0.0  # the use that the file knows of
    ended: bool = False
    _hearing: set[Callable[[], None]] = field(default_factory=set, repr=False)

    @contextmanager
    def heard_of(self, ended: Callable[[], None]) -> Iterator[None]:
        """Inside, `ended` is called as soon as the session ends."""
        self._hearing.add(ended)
        try:
            yield
        finally:
            self._hearing.discard(ended)

    def end(self) -> None:
        """Tell everybody who is connected by it."""
        self.ended = True
        for tell in tuple(self._hearing):
            tell()


class Sessions:
    """`file`: where they are kept; `utc_s`: the clock of the day."""

    def __init__(self, file: Path, utc_s: Callable[[], float]) -> None:
        self._file, self._utc_s = file, utc_s
        self._by_digest: dict[str, Session] = {each.digest: each for each in _read(file)}

    def __iter__(self) -> Iterator[Session]:
        """The newest first."""
        self._drop_unused()
        return iter(sorted(self._by_digest.values(), key=lambda each: -each.number))

    def open(self, kind: Kind, name: str, source: str) -> tuple[Session, str]:
        """A new session and its token, which is nowhere else. Raises TooManyDevicesError."""
        of_kind = [each for each in self if each.kind is kind]
        if kind is Kind.DEVICE and len(of_kind) >= DEVICES_MAX:
            raise TooManyDevicesError(f"{DEVICES_MAX} devices are paired already; remove one on the PC's Rig screen")
        for left_over in sorted(of_kind, key=lambda each: each.used_utc_s)[: max(0, len(of_kind) + 1 - BROWSERS_MAX)]:
            self._forget(left_over)
        token, now_utc_s = secrets.token_urlsafe(SECRET_BYTES), self._utc_s()
        number = 1 + max((each.number for each in self._by_digest.values()), default=0)
        name = plain_name(name) or kind.value
        if kind is Kind.DEVICE:
            name = _unused(name, {each.name for each in of_kind})
        session = Session(number, kind, name, source, now_utc_s, now_utc_s, digest(token))
        self._by_digest[session.digest] = session
        try:
            self._write()
        except NotKeptError as error:
            log.error("%s", error)  # it holds as long as the service runs
        return session, token

    def find(self, token: str, source: str) -> Session | None:
        """Whose token this is; it is used now."""
        session = self._by_digest.get(digest(token))
        now_utc_s = self._utc_s()
        if session is None or now_utc_s - session.used_utc_s > UNUSED_S:
            return None
        session.used_utc_s, session.source = now_utc_s, source
        if now_utc_s - session.noted_utc_s > NOTED_EVERY_S:
            session.noted_utc_s = now_utc_s  # also where it cannot be written: tried again in an hour
            try:
                self._write()
            except NotKeptError as error:
                log.error("%s", error)
        return session

    def end(self, number: int) -> Session | None:
        """End one; None: there is none of that number. Raises NotKeptError: it has ended, until a new start."""
        session = next((each for each in self if each.number == number), None)
        if session is not None:
            self._forget(session)
            self._write()
        return session

    def _forget(self, session: Session) -> None:
        del self._by_digest[session.digest]
        session.end()

    def _drop_unused(self) -> None:
        before_utc_s = self._utc_s() - UNUSED_S
        for each in [each for each in self._by_digest.values() if each.used_utc_s < before_utc_s]:
            self._forget(each)

    def _write(self) -> None:
        kept = [{name: getattr(each, name) for name in _KEPT} for each in self._by_digest.values()]
        try:
            replace_file(self._file, json.dumps(kept, indent=1).encode() + b"\n", private=True)
        except OSError as error:
            why = error.strerror or error
            raise NotKeptError(f"who may come in could not be written to {self._file} ({why})") from error
        for each in self._by_digest.values():
            each.noted_utc_s = each.used_utc_s


def plain_name(name: str) -> str:
    """A name that a stranger gave, as one short line without anything that a terminal would obey."""
    letters = (" " if unicodedata.category(letter)[0] in "CZ" else letter for letter in name)
    return " ".join("".join(letters).split())[:NAME_MAX].strip()


def _unused(name: str, taken: set[str]) -> str:
    """A name that no other device has, so that the PC knows which one asks."""
    names = itertools.chain((name,), (f"{name[: NAME_MAX - 3]} {k}" for k in itertools.count(2)))
    return next(each for each in names if each not in taken)


def _read(file: Path) -> list[Session]:
    """What is kept; nobody, where the file is missing, damaged, or could be read by others."""
    try:
        if not is_private(file):
            log.error("Others could read %s: nobody in it may come in any more", file)
            return []
        return [_session(each) for each in json.loads(file.read_bytes())]
    except FileNotFoundError:
        return []
    except (OSError, ValueError, TypeError, KeyError, RecursionError):
        log.error("%s cannot be read: browsers and devices must come in anew", file)
        return []


def _session(kept: dict[str, Any]) -> Session:
    used_utc_s = float(kept["used_utc_s"])
    return Session(
        int(kept["number"]),
        Kind(kept["kind"]),
        plain_name(str(kept["name"])),
        plain_name(str(kept["source"])),
        float(kept["made_utc_s"]),
        used_utc_s,
        str(kept["digest"]),
        used_utc_s,
    )
