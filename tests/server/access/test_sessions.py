"""Sessions, links, codes and wrong guesses by themselves: what holds how long, and what is kept."""

import json
import logging
import re
import stat
from pathlib import Path

import pytest

from server.access.links import LINK_S, LINKS_MAX, Links
from server.access.pairing import CODE_S, Pairing
from server.access.permission import Kind
from server.access.sessions import BROWSERS_MAX, NAME_MAX, UNUSED_S, NotKeptError, Sessions, plain_name
from server.access.slowing import SOURCES_MAX, WRONG_IN_S, WRONG_MAX, Slowing, source_of


class Clock:
    def __init__(self) -> None:
        self.utc_s = 1_795_600_000.0

    def __call__(self) -> float:
        return self.utc_s


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "sessions.json"


def test_a_session_is_known_after_a_new_start_and_no_token_stands_in_the_file(file: Path, clock: Clock) -> None:
    session, token = Sessions(file, clock).open(Kind.DEVICE, "phone", "192.168.10.7")
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert token not in file.read_text()
    again = Sessions(file, clock).find(token, "192.168.10.8")
    assert again is not None
    assert (again.number, again.kind, again.name, again.source) == (
        session.number,
        Kind.DEVICE,
        "phone",
        "192.168.10.8",
    )
    assert Sessions(file, clock).find(token + "x", "192.168.10.7") is None


def test_tokens_are_of_256_bits_and_no_two_are_the_same(file: Path, clock: Clock) -> None:
    sessions = Sessions(file, clock)
    tokens = {sessions.open(Kind.BROWSER, "Chrome", "::1")[1] for _ in range(20)}
    assert len(tokens) == 20
    assert all(re.fullmatch(r"[A-Za-z0-9_-]{43}", token) for token in tokens)  # base64 of 32 bytes


def test_a_session_ends_when_it_was_not_used_for_thirty_days(file: Path, clock: Clock) -> None:
    _, token = Sessions(file, clock).open(Kind.BROWSER, "Chrome", "::1")
    for _ in range(3):
        clock.utc_s += UNUSED_S - 1
        assert Sessions(file, clock).find(token, "::1") is not None  # and that it was used is kept
    clock.utc_s += UNUSED_S + 1
    sessions = Sessions(file, clock)
    assert sessions.find(token, "::1") is None
    assert list(sessions) == []


def test_ending_one_tells_whoever_is_connected_and_holds_after_a_new_start(file: Path, clock: Clock) -> None:
    sessions = Sessions(file, clock)
    session, token = sessions.open(Kind.DEVICE, "phone", "192.168.10.7")
    told = []
    with session.heard_of(lambda: told.append(1)):
        assert sessions.end(session.number) is session
    assert (told, session.ended) == ([1], True)
    assert sessions.find(token, "") is None
    assert Sessions(file, clock).find(token, "") is None
    assert sessions.end(session.number) is None


def test_an_end_that_cannot_be_written_holds_and_is_said(
    file: Path, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    sessions = Sessions(file, clock)
    session, token = sessions.open(Kind.DEVICE, "phone", "192.168.10.7")

    def full(path: Path, content: bytes, *, private: bool) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("server.access.sessions.replace_file", full)
    with pytest.raises(NotKeptError, match="No space left on device"):
        sessions.end(session.number)
    assert sessions.find(token, "") is None


def test_the_browser_that_was_not_used_for_longest_gives_way(file: Path, clock: Clock) -> None:
    sessions = Sessions(file, clock)
    tokens = []
    for _ in range(BROWSERS_MAX):
        tokens.append(sessions.open(Kind.BROWSER, "Chrome", "::1")[1])
        clock.utc_s += 1
    assert sessions.find(tokens[0], "::1") is not None  # the first is used again, so the second is the oldest
    sessions.open(Kind.BROWSER, "Chrome", "::1")
    assert [sessions.find(token, "::1") is not None for token in tokens[:3]] == [True, False, True]
    assert len(list(sessions)) == BROWSERS_MAX


@pytest.mark.parametrize("left", [b"", b"{}", b"[1]", b"[" * 9000, b'[{"number": 1}]', b"\xff", b'[{"number": "x"}]'])
def test_a_damaged_file_lets_nobody_in_and_is_told(
    file: Path, clock: Clock, left: bytes, caplog: pytest.LogCaptureFixture
) -> None:
    file.write_bytes(left)
    file.chmod(0o600)
    with caplog.at_level(logging.ERROR):
        sessions = Sessions(file, clock)
    assert list(sessions) == []
    assert ("must come in anew" in caplog.text) == (left != b"{}")
    sessions.open(Kind.BROWSER, "Chrome", "::1")
    assert len(json.loads(file.read_text())) == 1


def test_a_file_that_others_could_have_written_lets_nobody_in(file: Path, clock: Clock) -> None:
    _, token = Sessions(file, clock).open(Kind.BROWSER, "Chrome", "::1")
    file.chmod(0o644)
    assert Sessions(file, clock).find(token, "::1") is None


@pytest.mark.parametrize(
    ("given", "kept"),
    [
        ("phone", "phone"),
        ("  two\twords\n", "two words"),
        ("\x1b]0;evil\x07red", "]0;evil red"),
        ("a\u202eb\u2066c\u200b", "a b c"),  # what turns the direction of writing, or is not seen at all
        ("x" * 99, "x" * NAME_MAX),
        ("Ä 机器", "Ä 机器"),
        ("<b>", "<b>"),  # the page sets it as text
        ("\n", ""),
    ],
)
def test_a_name_that_a_stranger_gave_is_one_plain_line(given: str, kept: str) -> None:
    assert plain_name(given) == kept


def test_no_two_devices_have_the_same_name(file: Path, clock: Clock) -> None:
    sessions = Sessions(file, clock)
    named = [
        sessions.open(Kind.DEVICE, name, "192.168.10.7")[0].name for name in ("phone", "phone", "", "x" * 40, "x" * 40)
    ]
    assert named == ["phone", "phone 2", "device", "x" * 40, "x" * 37 + " 2"]
    assert [sessions.open(Kind.BROWSER, "Chrome", "::1")[0].name for _ in range(2)] == ["Chrome", "Chrome"]


def test_a_link_opens_once_and_for_an_hour() -> None:
    links = Links()
    secret = links.make(0.0)
    assert links.take(secret, LINK_S - 1)
    assert not links.take(secret, LINK_S - 1)
    late = links.make(0.0)
    assert not links.take(late, LINK_S)
    assert not links.take("", 0.0)
    assert not links.take("\udc80", 0.0)


def test_of_too_many_links_the_newest_hold() -> None:
    links = Links()
    secrets = [links.make(float(k)) for k in range(LINKS_MAX + 2)]
    assert [links.take(secret, 20.0) for secret in secrets] == [False] * 2 + [True] * LINKS_MAX


def test_codes_differ_and_wrong_ones_do_not_end_the_right_one() -> None:
    pairing = Pairing()
    codes = {pairing.begin(0.0).text for _ in range(50)}
    assert len(codes) == 50
    last = pairing.begin(0.0).text
    for wrong in ("", last[:-1], last + "A", last[::-1] if last != last[::-1] else "", "\udc80"):
        assert not pairing.take(wrong, 1.0)
    assert pairing.open_s(1.0) == CODE_S - 1
    assert pairing.take(last, 1.0)
    assert pairing.open_s(1.0) == 0.0


def test_ten_wrong_guesses_a_minute_a_source() -> None:
    slowing = Slowing()
    for k in range(WRONG_MAX):
        assert slowing.wait_s("192.168.10.7", float(k)) == 0
        slowing.was_wrong("192.168.10.7", float(k))
    assert slowing.wait_s("192.168.10.7", 10.0) == 51
    assert slowing.wait_s("192.168.10.8", 10.0) == 0
    assert slowing.wait_s("192.168.10.7", WRONG_IN_S - 0.5) == 1
    assert slowing.wait_s("192.168.10.7", WRONG_IN_S) == 0


def test_a_network_of_newer_addresses_is_one_source() -> None:
    assert source_of("2001:db8::1") == source_of("2001:db8::ffff:1") != source_of("2001:db8:0:1::1")
    assert source_of("fd00::1%eth0") == source_of("fd00::2")
    assert source_of("::1") == "::1"
    assert source_of("192.168.10.7") == "192.168.10.7"
    slowing = Slowing()
    for k in range(WRONG_MAX):
        slowing.was_wrong(f"2001:db8::{k}", 0.0)
    assert slowing.wait_s("2001:db8::abcd", 1.0) > 0


def test_no_crowd_of_sources_fills_the_memory() -> None:
    slowing = Slowing()
    for k in range(10 * SOURCES_MAX):
        slowing.was_wrong(f"10.0.{k // 256}.{k % 256}", 0.0)
    assert len(slowing._wrong) == SOURCES_MAX
