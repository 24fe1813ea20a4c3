import pytest

from server.web.token import WRONG_MAX, Tokens

RIGHT = "r" * 43


def bearer(token: str, scheme: str = "Bearer") -> list[tuple[bytes, bytes]]:
    return [(b"authorization", f"{scheme} {token}".encode())]


@pytest.mark.parametrize("scheme", ["Bearer", "bearer", "BEARER"])
def test_the_right_token_passes(scheme: str) -> None:
    assert Tokens(RIGHT + "\n").judge(bearer(RIGHT, scheme), "127.0.0.1", 0.0) is None


@pytest.mark.parametrize(
    "headers",
    [
        [],
        bearer("w" * 43),
        bearer(RIGHT[:-1]),
        bearer(RIGHT + "r"),
        bearer(RIGHT, "Basic"),
        bearer(RIGHT) * 2,
        bearer(""),
        [(b"authorization", b"Bearer \xff\xfe")],
    ],
)
def test_anything_else_is_refused(headers: list[tuple[bytes, bytes]]) -> None:
    refusal = Tokens(RIGHT).judge(headers, "127.0.0.1", 0.0)
    assert refusal is not None
    assert refusal.status == 401


def test_ten_wrong_tokens_a_minute_and_no_more() -> None:
    tokens = Tokens(RIGHT)
    for k in range(WRONG_MAX):
        refusal = tokens.judge(bearer("w"), "127.0.0.1", float(k))
        assert refusal is not None
        assert refusal.status == 401
    for token in ("w", RIGHT):  # the right one too: whoever guesses must not learn that he was right
        refusal = tokens.judge(bearer(token), "127.0.0.1", 10.0)
        assert refusal is not None
        assert (refusal.status, refusal.retry_s) == (429, 51)
    assert tokens.judge(bearer(RIGHT), "::1", 10.0) is None
    assert tokens.judge(bearer(RIGHT), "127.0.0.1", 60.0) is None


def test_no_token_at_all_is_not_a_wrong_one() -> None:
    tokens = Tokens(RIGHT)
    for _ in range(50):
        tokens.judge([], "127.0.0.1", 0.0)
    assert tokens.judge(bearer(RIGHT), "127.0.0.1", 0.0) is None


def test_a_damaged_token_file_is_not_used() -> None:
    with pytest.raises(ValueError, match="shorter than 32"):
        Tokens("")
