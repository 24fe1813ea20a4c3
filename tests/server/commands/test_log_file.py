"""What the service says is kept, a line each, in files that rotate."""

import json
import logging
from pathlib import Path

import pytest

from server.commands import log_file
from server.commands.log_file import logged

log = logging.getLogger("server.test")


def lines(data: Path) -> list[dict[str, str]]:
    return [json.loads(line) for line in (data / "log" / "slipring.jsonl").read_text().splitlines()]


def test_each_thing_that_is_said_is_one_line_whatever_is_in_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with logged(tmp_path):
        log.warning("a board says %s", "\x1b[2J\nmotor\u2028stopped")
        try:
            raise ZeroDivisionError("ours")
        except ZeroDivisionError:
            log.exception("a mistake")
        log.debug("not this")
    found = lines(tmp_path)
    assert [line["level"] for line in found] == ["info", "warning", "error", "info"]
    assert found[1]["says"] == "a board says \x1b[2J\nmotor\u2028stopped"
    assert found[1]["from"] == "server.test"
    assert found[1]["at"].endswith("+00:00")
    assert "ZeroDivisionError: ours" in found[2]["trace"]
    assert b"\x1b" not in (tmp_path / "log" / "slipring.jsonl").read_bytes()
    assert "a mistake" in capsys.readouterr().err
    assert logging.getLogger().level == logging.WARNING


def test_files_rotate_and_the_oldest_go(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(log_file, "BYTES_MAX", 2000)
    with logged(tmp_path):
        for number in range(400):
            log.info("number %d", number)
    files = sorted((tmp_path / "log").iterdir())
    assert len(files) == 6
    assert all(file.stat().st_size <= 2000 for file in files)
    assert "number 399" in (tmp_path / "log" / "slipring.jsonl").read_text()


def test_a_log_that_cannot_be_written_hinders_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "log").write_text("a file in the way")
    with logged(tmp_path):
        log.warning("told on the terminal")
    assert capsys.readouterr().err == "told on the terminal\n"
    (tmp_path / "log").unlink()
    (tmp_path / "log" / "slipring.jsonl").mkdir(parents=True)
    with logged(tmp_path):
        log.warning("told again")
    assert capsys.readouterr().err == "told again\n"
