"""Everything that decides who comes in, together: what the guard asks and what the routes of the door change."""

import time
from dataclasses import dataclass
from ipaddress import IPv4Address, IPv6Address
from pathlib import Path
from typing import TypeAlias

from server.access.consent import Consents
from server.access.links import Links
from server.access.pairing import Pairing
from server.access.permission import Kind
from server.access.sessions import Session, Sessions
from server.access.slowing import Slowing
from server.data_folder import secret_folder

Address: TypeAlias = IPv4Address | IPv6Address


def host_of(address: Address) -> str:
    """An address as a browser writes it (RFC 3986, 3.2.2)."""
    return f"[{address.compressed}]" if isinstance(address, IPv6Address) else str(address)


@dataclass(frozen=True, slots=True)
class Bench:
    """The address on the bench network. `names`: as in a Host header, lower case, the address first."""

    names: tuple[str, ...]
    address: str
    port: int
    fingerprint: str  # SHA-256 of the certificate; empty: the traffic is not encrypted

    @property
    def encrypted(self) -> bool:
        return bool(self.fingerprint)

    @property
    def url(self) -> str:
        return f"{'https' if self.encrypted else 'http'}://{self.names[0]}:{self.port}/"


@dataclass(frozen=True, slots=True)
class Visitor:
    """Who asks: a script of this PC (`session` is None), or the browser or device of a session."""

    kind: Kind
    session: Session | None = None

    @property
    def has_left(self) -> bool:
        """Its session has ended while it was still connected."""
        return self.session is not None and self.session.ended


class Entrance:
    """`token`: of the scripts; `sessions`: who has come in; `bench`: the address for other devices, if there is one."""

    def __init__(self, token: str, sessions: Sessions, bench: Bench | None = None) -> None:
        if len(token.strip()) < 32:
            raise ValueError("the scripts' token is shorter than 32 characters: its file is damaged")
        self.token = token.strip()
        self.sessions = sessions
        self.bench = bench
        self.links, self.pairing, self.consents = Links(), Pairing(), Consents()
        self.slowing = Slowing()  # of wrong tokens
        self.guessing = Slowing()  # of wrong codes and links: a page that is reloaded must not stop scripts


def entrance_of(data: Path, token: str, bench: Bench | None = None) -> Entrance:
    """The entrance of a data folder. Raises DataFolderError."""
    return Entrance(token, Sessions(secret_folder(data) / "sessions.json", time.time), bench)
