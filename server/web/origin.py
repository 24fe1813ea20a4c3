"""Who may ask: the Host and Origin of a request, judged by whole values, never by how they begin or end. Pure."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache

LOOPBACK = ("127.0.0.1", "::1")
LOOPBACK_NAMES = ("localhost", "127.0.0.1", "[::1]")
USUAL_PORT = {"http": 80, "https": 443}  # what a browser leaves away

Headers = Sequence[tuple[bytes, bytes]]


@dataclass(frozen=True, slots=True)
class Refusal:
    """A status and a sentence for the person; `retry_s` where it makes sense to wait, `key`: which setting it is."""

    status: int
    sentence: str
    retry_s: int | None = None
    key: str = ""


@dataclass(frozen=True)
class Served:
    """One address that is listened on: what it may be called, in lower case, its port, and whether it speaks TLS."""

    names: tuple[str, ...]
    port: int
    encrypted: bool = False
    opened: str = ""  # the name that a person is told to open

    @property
    def scheme(self) -> str:
        return "https" if self.encrypted else "http"

    @property
    def behind(self) -> str:
        """The port as it stands behind a name."""
        return "" if self.port == USUAL_PORT[self.scheme] else f":{self.port}"

    @property
    def url(self) -> str:
        return f"{self.scheme}://{self.opened or self.names[0]}{self.behind}/"

    @cached_property
    def origins(self) -> frozenset[str]:
        """The origins of our own page, as a browser writes them."""
        return frozenset(f"{self.scheme}://{name}{self.behind}" for name in self.names)

    @cached_property
    def _host(self) -> re.Pattern[str]:
        # one name or address, perhaps one trailing dot behind a name, perhaps a port without leading zeros
        known = "|".join(re.escape(name) + (r"\.?" if _is_name(name) else "") for name in self.names)
        return re.compile(rf"(?:{known})(?::([1-9][0-9]{{0,4}}))?", re.ASCII | re.IGNORECASE)

    def is_named(self, host: str) -> bool:
        """Whether a Host header names this address."""
        parts = self._host.fullmatch(host)
        return parts is not None and int(parts[1] or USUAL_PORT[self.scheme]) == self.port


def _is_name(name: str) -> bool:
    return any(letter.isalpha() for letter in name) and not name.startswith("[")


@lru_cache(maxsize=8)
def loopback(port: int) -> Served:
    """This computer."""
    return Served(LOOPBACK_NAMES, port, opened="127.0.0.1")


def all_values(headers: Headers, name: bytes) -> list[str]:
    """Every value of a header, in order; names come in lower case."""
    return [value.decode("latin-1") for key, value in headers if key == name]


def judge_host(headers: Headers, served: Served) -> Refusal | None:
    """A page of another name that points to this computer must not get in (DNS rebinding)."""
    hosts = all_values(headers, b"host")
    if len(hosts) == 1 and served.is_named(hosts[0]):
        return None
    came = f'"{hosts[0][:100]}"' if len(hosts) == 1 else f"{len(hosts)} names" if hosts else "no name"
    *most, last = served.names
    names = f"{', '.join(most)} and {last}" if most else last
    text = f"Slipring answers to {names} at port {served.port} only, and {came} was asked for"
    return Refusal(421, f"{text}; open {served.url}.")


def judge_origin(headers: Headers, served: Served) -> Refusal | None:
    """For sockets and what changes something: a foreign page is refused, by its origin and by what the browser says of
    it (Fetch Metadata), whichever of the two has come. Where neither has it is judged by its token later."""
    named = all_values(headers, b"origin")
    if named and (len(named) > 1 or named[0] not in served.origins):
        return Refusal(403, f"Another page ({named[0][:100]}) asked for this, and only Slipring's own page may.")
    return None if _is_ours(headers) else _ANOTHER_PAGE


def judge_fetch(headers: Headers) -> Refusal | None:
    """For GET: another page may link to this one, but not build it, or its data, into itself (Fetch Metadata)."""
    if _is_ours(headers):
        return None
    is_link = all_values(headers, b"sec-fetch-mode") == ["navigate"]
    if is_link and all_values(headers, b"sec-fetch-dest") == ["document"]:
        return None
    return _ANOTHER_PAGE


def _is_ours(headers: Headers) -> bool:
    """Our page has asked, a person by the address line, or no browser that tells."""
    return all(site in ("same-origin", "none") for site in all_values(headers, b"sec-fetch-site"))


_ANOTHER_PAGE = Refusal(403, "Another page asked for this, and only Slipring's own page may.")
