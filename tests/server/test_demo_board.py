"""Software boards as children: started, told of, ended; nothing stays behind."""

import asyncio
import os
import sys
from pathlib import Path

import pytest

from server import demo_board
from server.demo_board import DemoBoard, DemoBoardError, RefusedSettingError

POLITE = "import sys; print('socket://127.0.0.1:7', flush=True); sys.stdin.read()"
STUBBORN = (
    "import signal, time; signal.signal(signal.SIGTERM, signal.SIG_IGN); "
    "print('/dev/pts/9', flush=True); time.sleep(60)"
)


@pytest.fixture(autouse=True)
def impatient(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(demo_board, "STOP_S", 0.3)


def play(monkeypatch: pytest.MonkeyPatch, script: str) -> None:
    monkeypatch.setattr(demo_board, "COMMAND", ("-c", script))


def is_running(pid: int) -> bool:
    return Path(f"/proc/{pid}").exists()


async def test_a_board_tells_its_port_and_ends_with_its_lifeline(monkeypatch: pytest.MonkeyPatch) -> None:
    play(monkeypatch, POLITE)
    board = await DemoBoard.start("any", "HB-0001")
    assert board.url == "socket://127.0.0.1:7"
    assert is_running(board.pid)
    await board.stop()
    assert not is_running(board.pid)


async def test_a_board_that_does_not_listen_is_ended_by_force(monkeypatch: pytest.MonkeyPatch) -> None:
    play(monkeypatch, STUBBORN)
    board = await DemoBoard.start("any", "HB-0001")
    await board.stop()
    assert not is_running(board.pid)


async def test_a_board_that_ends_at_once_is_told_in_words(monkeypatch: pytest.MonkeyPatch) -> None:
    play(monkeypatch, "import sys; sys.exit(3)")
    sentence = "The software board any did not start: it ended with code 3; what it said stands in the terminal."
    with pytest.raises(DemoBoardError, match=sentence):
        await DemoBoard.start("any", "HB-0001")


@pytest.mark.parametrize(
    ("end", "sentence"),
    [
        ("import os; os.kill(os.getpid(), 9)", "The software board any was killed (signal 9)."),
        ("raise SystemExit(4)", "The software board any ended with code 4; what it said stands in the terminal."),
        ("", "The software board any ended by itself."),
    ],
)
async def test_how_a_board_ended_is_one_sentence(monkeypatch: pytest.MonkeyPatch, end: str, sentence: str) -> None:
    play(monkeypatch, f"print('socket://127.0.0.1:7', flush=True)\n{end}")
    board = await DemoBoard.start("any", "HB-0001")
    assert await board.ended() == sentence
    await board.stop()


async def test_a_board_that_says_nothing_is_given_up(monkeypatch: pytest.MonkeyPatch) -> None:
    play(monkeypatch, "import sys; sys.stdin.read()")
    monkeypatch.setattr(demo_board, "START_S", 0.3)
    with pytest.raises(DemoBoardError, match="gave no port"):
        await DemoBoard.start("any", "HB-0001")


async def test_a_start_that_is_called_off_leaves_no_child(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    note = tmp_path / "pid"
    play(monkeypatch, f"import os, sys; open({str(note)!r}, 'w').write(str(os.getpid())); sys.stdin.read()")
    starting = asyncio.create_task(DemoBoard.start("any", "HB-0001"))
    while not (note.exists() and note.read_text()):
        await asyncio.sleep(0.02)
    starting.cancel()
    with pytest.raises(asyncio.CancelledError):
        await starting
    assert not is_running(int(note.read_text()))


async def test_ctrl_c_in_the_terminal_does_not_reach_the_board(monkeypatch: pytest.MonkeyPatch) -> None:
    play(monkeypatch, POLITE)
    board = await DemoBoard.start("any", "HB-0001")
    assert os.getpgid(board.pid) != os.getpgid(0)
    await board.stop()


async def test_the_board_is_a_process_of_the_same_python(monkeypatch: pytest.MonkeyPatch) -> None:
    play(monkeypatch, "import sys; print(sys.executable, flush=True); sys.stdin.read()")
    board = await DemoBoard.start("any", "HB-0001")
    assert board.url == sys.executable
    await board.stop()


ECHO = (
    "import json, sys; print('socket://127.0.0.1:7', flush=True)\n"
    "for line in sys.stdin:\n"
    "    order = json.loads(line)\n"
    "    wrong = {'error': 'no such setting', 'key': 'x'} if order.get('set') == {'x': 1} else {'got': order}\n"
    "    print(json.dumps({'id': order['id'] - 1, 'late': True}), flush=True)\n"
    "    print(json.dumps({'id': order['id'], **wrong}), flush=True)\n"
)


async def test_what_a_person_changes_goes_to_the_child_line_by_line_and_its_answer_comes_back(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    play(monkeypatch, ECHO)
    board = await DemoBoard.start("any", "HB-0001")
    answers = await asyncio.gather(*(board.tell({"set": {"hall_order": order}}) for order in ("ABC", "BCA")))
    assert [answer["got"]["set"]["hall_order"] for answer in answers] == ["ABC", "BCA"]
    with pytest.raises(RefusedSettingError, match="no such setting") as refused:
        await board.tell({"set": {"x": 1}})
    assert refused.value.key == "x"
    await board.stop()
    with pytest.raises(DemoBoardError, match="has ended"):
        await board.tell({"ask": True})


async def test_a_child_that_gives_no_answer_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    play(monkeypatch, POLITE)
    monkeypatch.setattr(demo_board, "ANSWER_S", 0.1)
    board = await DemoBoard.start("any", "HB-0001")
    with pytest.raises(DemoBoardError, match="gave no answer; try again"):
        await board.tell({"ask": True})
    await board.stop()
