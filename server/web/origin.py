"""Who may ask: the Host and Origin of a request, judged by whole values, never by how they begin or end. Pure."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

NAMES = ("localhost", "127.0.0.1", "[::1]")
HTTP_PORT = 80  # what a browser leaves away
# one name or address, perhaps one trailing dot behind the name, perhaps a port without leading zeros; nothing else
_HOST = re.compile(r"(localhost|localhost\.|127\.0\.0\.1|\[::1\])(?::([1-9][0-9]{0,4}))?", re.ASCII | re.IGNORECASE)

Headers = Sequence[tuple[bytes, bytes]]


@dataclass(frozen=True, slots=True)
class Refusal:
    """A status and a sentence for the person; `retry_s` where it makes sense to wait."""

    status: int
    sentence: str
    retry_s: int | None = None


def all_values(headers: Headers, name: bytes) -> list[str]:
    """Every value of a header, in order; names come in lower case."""
    return [value.decode("latin-1") for key, value in headers if key == name]


def is_ours(host: str, port: int) -> bool:
    """Whether a Host header names this service, which listens on `port` of this computer."""
    parts = _HOST.fullmatch(host)
    return parts is not None and int(parts[2] or HTTP_PORT) == port


def origins(port: int) -> frozenset[str]:
    """The origins of our own page, as a browser writes them."""
    behind = "" if port == HTTP_PORT else f":{port}"
    return frozenset(f"http://{name}{behind}" for name in NAMES)


def judge_host(headers: Headers, port: int) -> Refusal | None:
    """A page of another name that points to this computer must not get in (DNS rebinding)."""
    hosts = all_values(headers, b"host")
    if len(hosts) == 1 and is_ours(hosts[0], port):
        return None
    came = f'"{hosts[0][:100]}"' if len(hosts) == 1 else f"{len(hosts)} names" if hosts else "no name"
    text = f"Slipring answers to localhost, 127.0.0.1 and [::1] at port {port} only, and {came} was asked for"
    return Refusal(421, f"{text}; open http://127.0.0.1:{port}/.")


def judge_origin(headers: Headers, port: int) -> Refusal | None:
    """For sockets and what changes something: a foreign page is refused, no origin is judged by its token later."""
    named = all_values(headers, b"origin")
    if not named or (len(named) == 1 and named[0] in origins(port)):
        return None
    return Refusal(403, f"Another page ({named[0][:100]}) asked for this, and only Slipring's own page may.")


def judge_fetch(headers: Headers) -> Refusal | None:
    """For GET: another page may link to this one, but not build it, or its data, into itself (Fetch Metadata)."""
    site = all_values(headers, b"sec-fetch-site")
    if not site or site[0] in ("same-origin", "none"):
        return None
    is_link = all_values(headers, b"sec-fetch-mode") == ["navigate"]
    if is_link and all_values(headers, b"sec-fetch-dest") == ["document"]:
        return None
    return Refusal(403, "Another page asked for this, and only Slipring's own page may.")
