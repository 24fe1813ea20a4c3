"""The scripts' token and the cookie of a session: what passes, what does not, and how long wrong ones wait."""

from pathlib import Path

import pytest

from server.access.entrance import Entrance, Visitor
from server.access.permission import Kind
from server.access.sessions import Sessions
from server.access.slowing import WRONG_MAX
from server.web.origin import Headers, Refusal, Served, loopback
from server.web.token import cookie_name, new_cookie, no_cookie, visitor_by_cookie, visitor_by_token

RIGHT = "r" * 43
HERE = loopback(8420)
BENCH = Served(("192.168.10.2",), 8420, encrypted=True)


def bearer(token: str, scheme: str = "Bearer") -> list[tuple[bytes, bytes]]:
    return [(b"authorization", f"{scheme} {token}".encode())]


@pytest.fixture
def entrance(tmp_path: Path) -> Entrance:
    return Entrance(RIGHT + "\n", Sessions(tmp_path / "sessions.json", lambda: 0.0))


def judged(
    entrance: Entrance, headers: Headers, source: str = "127.0.0.1", now_s: float = 0.0, local: bool = True
) -> int:
    """200: it passes; 0: no token was given."""
    visitor = visitor_by_token(entrance, headers, source, local, now_s)
    if visitor is None:
        return 0
    return visitor.status if isinstance(visitor, Refusal) else 200


@pytest.mark.parametrize("scheme", ["Bearer", "bearer", "BEARER"])
def test_the_right_token_passes(entrance: Entrance, scheme: str) -> None:
    assert visitor_by_token(entrance, bearer(RIGHT, scheme), "127.0.0.1", True, 0.0) == Visitor(Kind.SCRIPT)


@pytest.mark.parametrize(
    "headers",
    [
        bearer("w" * 43),
        bearer(RIGHT[:-1]),
        bearer(RIGHT + "r"),
        bearer(RIGHT, "Basic"),
        bearer(RIGHT) * 2,
        bearer(""),
        [(b"authorization", b"Bearer \xff\xfe")],
    ],
)
def test_anything_else_is_refused(entrance: Entrance, headers: Headers) -> None:
    assert judged(entrance, headers) == 401


def test_on_the_bench_network_the_token_of_scripts_is_worth_nothing(entrance: Entrance) -> None:
    assert judged(entrance, bearer(RIGHT), "192.168.10.7", local=False) == 401


def test_ten_wrong_tokens_a_minute_and_no_more(entrance: Entrance) -> None:
    for k in range(WRONG_MAX):
        assert judged(entrance, bearer("w"), now_s=float(k)) == 401
    for token in ("w", RIGHT):  # the right one too: whoever guesses must not learn that he was right
        refusal = visitor_by_token(entrance, bearer(token), "127.0.0.1", True, 10.0)
        assert isinstance(refusal, Refusal)
        assert (refusal.status, refusal.retry_s) == (429, 51)
    assert judged(entrance, bearer(RIGHT), "::1", 10.0) == 200
    assert judged(entrance, bearer(RIGHT), "127.0.0.1", 60.0) == 200


def test_no_token_at_all_is_not_a_wrong_one(entrance: Entrance) -> None:
    for _ in range(50):
        assert judged(entrance, []) == 0
    assert judged(entrance, bearer(RIGHT)) == 200


def test_a_damaged_token_file_is_not_used(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="shorter than 32"):
        Entrance("", Sessions(tmp_path / "sessions.json", lambda: 0.0))


def cookie(line: str) -> Headers:
    return [(b"cookie", line.encode())]


def test_a_cookie_is_no_scripts_to_read_and_no_foreign_pages_to_send() -> None:
    assert new_cookie(HERE, "T").split("; ") == [
        "slipring-8420=T",
        "Path=/",
        "HttpOnly",
        "SameSite=Strict",
        "Max-Age=34560000",
    ]
    encrypted = new_cookie(BENCH, "T").split("; ")
    assert encrypted[0] == "__Host-slipring-8420=T"  # a browser takes it with Secure, Path=/ and no Domain only
    assert {"Path=/", "HttpOnly", "SameSite=Strict", "Secure"} < set(encrypted)
    assert not [part for part in encrypted if part.lower().startswith("domain")]
    assert "Max-Age=0" in no_cookie(BENCH).split("; ")


def test_a_session_counts_where_it_was_opened_only(entrance: Entrance) -> None:
    browser, of_browser = entrance.sessions.open(Kind.BROWSER, "Chrome", "127.0.0.1")
    device, of_device = entrance.sessions.open(Kind.DEVICE, "phone", "192.168.10.7")

    def who(served: Served, token: str, local: bool) -> Visitor | None:
        return visitor_by_cookie(entrance, cookie(f"{cookie_name(served)}={token}"), served, "x", local)

    assert who(HERE, of_browser, True) == Visitor(Kind.BROWSER, browser)
    assert who(BENCH, of_device, False) == Visitor(Kind.DEVICE, device)
    assert who(BENCH, of_browser, False) is None
    assert who(HERE, of_device, True) is None


def test_cookies_that_another_port_of_this_pc_has_set_do_not_shut_the_person_out(entrance: Entrance) -> None:
    session, token = entrance.sessions.open(Kind.BROWSER, "Chrome", "127.0.0.1")
    assert session.name == "Chrome"
    for line in (f"slipring-8420=evil; slipring-8420={token}", f"a=b; slipring-8420={token}; slipring-8420="):
        assert visitor_by_cookie(entrance, cookie(line), HERE, "127.0.0.1", True) is not None
    for line in (
        f"slipring-8421={token}",
        f"slipring-8420x={token}",
        f"slipring-8420={token}x",
        "slipring-8420=",
        ";;",
    ):
        assert visitor_by_cookie(entrance, cookie(line), HERE, "127.0.0.1", True) is None
    buried = "; ".join(["slipring-8420=evil"] * 4 + [f"slipring-8420={token}"])
    assert visitor_by_cookie(entrance, cookie(buried), HERE, "127.0.0.1", True) is None
