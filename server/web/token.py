"""Who asks: the scripts' token in a header, or the session of a browser or device in a cookie."""

import secrets
from collections.abc import Iterator

from server.access.entrance import Entrance, Visitor
from server.access.permission import Kind
from server.access.slowing import WRONG_MAX
from server.web.origin import Headers, Refusal, Served, all_values

_SCHEME = "bearer "
COOKIES_MAX = 4  # of one name that are looked at: a page of another port of this PC can add some
COOKIE_S = 400 * 86_400  # the longest that browsers keep one; the session itself ends sooner if it is not used


def cookie_name(served: Served) -> str:
    """Cookies know no ports, so the port is in the name. `__Host-`: by TLS only, from this host only (RFC 6265bis)."""
    return f"{'__Host-' if served.encrypted else ''}slipring-{served.port}"


def new_cookie(served: Served, token: str) -> str:
    """The header that gives a browser its session."""
    secure = "; Secure" if served.encrypted else ""
    return f"{cookie_name(served)}={token}; Path=/; HttpOnly; SameSite=Strict; Max-Age={COOKIE_S}{secure}"


def no_cookie(served: Served) -> str:
    """The header that takes it away again."""
    secure = "; Secure" if served.encrypted else ""
    return f"{cookie_name(served)}=; Path=/; HttpOnly; SameSite=Strict; Max-Age=0{secure}"


def visitor_by_token(
    entrance: Entrance, headers: Headers, source: str, local: bool, now_s: float
) -> Visitor | Refusal | None:
    """None: no token came. `source` is the address that it came from, `now_s` a clock that never steps."""
    given = all_values(headers, b"authorization")
    if not given:
        return None
    if not local:
        return Refusal(401, "The token of scripts works on the PC itself only; another device is paired by a code.")
    if wait_s := entrance.slowing.wait_s(source, now_s):
        return Refusal(429, f"{WRONG_MAX} wrong tokens came in a minute; wait {wait_s} s.", wait_s)
    said = given[0]
    right = said[: len(_SCHEME)].lower() == _SCHEME and secrets.compare_digest(
        said[len(_SCHEME) :].strip().encode("latin-1", "replace"), entrance.token.encode()
    )
    if right and len(given) == 1:
        return Visitor(Kind.SCRIPT)
    entrance.slowing.was_wrong(source, now_s)
    return Refusal(401, "The token is not the one of this service; slipring token tells where it is.")


def visitor_by_cookie(entrance: Entrance, headers: Headers, served: Served, source: str, local: bool) -> Visitor | None:
    """None: no session that holds. A browser's is worth something on this PC only, a device's on the bench network."""
    for token in _cookies(headers, cookie_name(served)):
        session = entrance.sessions.find(token, source)
        if session is not None and (session.kind is Kind.BROWSER) == local:
            return Visitor(session.kind, session)
    return None


def _cookies(headers: Headers, name: str) -> Iterator[str]:
    pairs = (pair.strip().partition("=") for line in all_values(headers, b"cookie") for pair in line.split(";"))
    for number, token in enumerate(value for key, _, value in pairs if key == name and value):
        if number >= COOKIES_MAX:
            return
        yield token
