"""Ports of this PC and what each says; the list itself is planted, what is asked is real."""

from dataclasses import dataclass
from pathlib import Path

import pytest
from serial.tools import list_ports

from firmware_protocol import Describe, Identity
from server.ingest import found_ports as room
from server.ingest.found_ports import FoundPort, PortSearch
from server.ingest.line import open_line
from tests.server.ingest.boards import DESCRIPTION, PtyBoard, frames


@dataclass
class Info:
    """What the system tells of a port."""

    device: str
    description: str = "n/a"


@pytest.fixture
def plant(monkeypatch: pytest.MonkeyPatch) -> list[Info]:
    infos: list[Info] = []
    monkeypatch.setattr(list_ports, "comports", lambda: infos)
    monkeypatch.setattr(room, "ASK_S", 0.4)
    return infos


def test_no_ports_is_an_empty_list(plant: list[Info]) -> None:
    assert PortSearch().found() == []


def test_a_board_says_who_it_is_and_is_asked_for_nothing_else(plant: list[Info]) -> None:
    board = PtyBoard()
    plant.append(Info(board.url, "USB serial"))
    assert PortSearch().found() == [
        FoundPort(board.url, "", "USB serial", "board", "Slipring board test board T-1 firmware 1.0")
    ]
    assert {type(message) for message in board.heard} == {Describe}
    board.pull()


def test_a_port_of_a_rig_is_never_opened(plant: list[Info], tmp_path: Path) -> None:
    board = PtyBoard()
    link = tmp_path / "board"
    link.symlink_to(board.url)
    plant.append(Info(board.url))
    (found,) = PortSearch().found({str(link): "bench"})
    assert (found.kind, found.says) == ("used", "in use by rig bench of this service")
    assert board.heard == []
    board.pull()


def test_only_ports_that_match_a_pattern_are_asked(plant: list[Info], tmp_path: Path) -> None:
    board, other = PtyBoard(), PtyBoard()
    (tmp_path / "ttyACM0").symlink_to(board.url)
    plant += [Info(board.url), Info(other.url)]
    (found,) = PortSearch([str(tmp_path / "ttyACM*"), str(tmp_path / "ttyUSB*")]).found()
    assert (found.port, found.kind) == (str(tmp_path / "ttyACM0"), "board")
    assert other.heard == []
    board.pull()
    other.pull()


def test_one_port_is_asked_alone_and_is_free_again_when_the_answer_is_there(plant: list[Info], tmp_path: Path) -> None:
    board = PtyBoard()
    answer = PortSearch().ask(board.url, used={"/dev/ttyACM0": "bench"})
    assert answer == FoundPort(board.url, "", "", "board", "Slipring board test board T-1 firmware 1.0")
    open_line(board.url, 9600).close()  # locked, had the asking left it open
    assert PortSearch().ask(board.url, used={board.url: "bench"}).kind == "used"
    assert PortSearch().ask(f"{board.url}@115200", used={}).kind == "board"
    assert PortSearch().ask(f"{board.url}@115200", used={board.url: "bench"}).kind == "used"
    assert PortSearch().ask(str(tmp_path / "none"), used={}).kind == "refused"
    assert PortSearch().ask("nonsense://", used={}).kind == "refused"
    board.pull()


def test_ports_are_asked_at_the_same_time_and_each_says_its_own(plant: list[Info]) -> None:
    silent = PtyBoard(answer=lambda message: b"")
    chatty = PtyBoard(answer=lambda message: b"ok T:21.0\r\nok T:21.1\r\nok T:21.2\r\n")
    other = PtyBoard(answer=lambda message: frames(Identity(0, 3, 1, 1_000_000, 0, 0, "T-2")))
    missing = "/dev/no-such-port"
    plant += [Info(silent.url), Info(chatty.url), Info(other.url), Info(missing)]
    said = {found.port: (found.kind, found.says) for found in PortSearch().found()}
    assert said[silent.url] == ("silent", "no answer: no Slipring board, or no power")
    assert said[chatty.url][0] == "other"
    assert said[chatty.url][1].endswith('with no good frame, text lines such as "ok T:21.1"')
    assert said[other.url][0] == "board"
    assert "The board speaks version 0.3 of the protocol" in said[other.url][1]
    assert said[missing][0] == "refused"
    assert said[missing][1].startswith(f"There is no port {missing}. ")
    for board in (silent, chatty, other):
        board.pull()


def test_a_name_that_survives_plugging_in_again_stands_beside(
    plant: list[Info], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    board = PtyBoard()
    link = tmp_path / "usb-board-if00"
    link.symlink_to(board.url)
    monkeypatch.setattr(room, "BY_ID", tmp_path)
    plant.append(Info(board.url))
    assert PortSearch().found({board.url: "bench"})[0].stable == str(link)
    board.pull()


def test_hostile_text_of_a_board_stays_on_one_line_without_escapes(plant: list[Info]) -> None:
    evil = Identity(1, 0, 1, 1_000_000, 0, 0, "\x1b[31mT\n-1\u2028", model="m\x00\t")
    board = PtyBoard(answer=lambda message: frames(evil))
    plant.append(Info(board.url))
    (found,) = PortSearch().found()
    assert found.says.isprintable()
    board.pull()


def test_the_real_list_of_ports_can_be_had_without_opening_any() -> None:
    assert PortSearch(["/dev/no-such-port*"]).found() == []


def test_a_port_is_asked_once_for_as_long_as_it_stays_plugged_in(plant: list[Info], tmp_path: Path) -> None:
    """Opening it again could restart the board behind it."""
    board, link = PtyBoard(), tmp_path / "ttyACM0"
    link.symlink_to(board.url)
    search = PortSearch([str(tmp_path / "tty*")])
    first, second = search.found(), search.found()
    assert first == second
    assert first[0].kind == "board"
    assert len(board.heard) == 1
    assert search.ask(str(link), {}).kind == "board"  # a person asks: again
    assert len(board.heard) == 2
    other = PtyBoard()
    link.unlink()
    link.symlink_to(other.url)
    assert search.found()[0].kind == "board"
    assert len(other.heard) == 1
    assert search.found({str(link): "bench"})[0].kind == "used"
    board.pull()
    other.pull()


def test_a_silent_port_is_asked_again_after_a_while(plant: list[Info], monkeypatch: pytest.MonkeyPatch) -> None:
    answers = [b""]
    board = PtyBoard(answer=lambda message: answers[0])
    plant.append(Info(board.url))
    search = PortSearch()
    assert search.found()[0].kind == "silent"
    answers[0] = DESCRIPTION  # it has power now
    assert search.found()[0].kind == "silent"
    monkeypatch.setattr(room, "SILENT_AGAIN_S", 0.0)
    assert search.found()[0].kind == "board"
    board.pull()
