"""`slipring ports`: a table for people, JSON lines for programs."""

import json

import pytest

from server.__main__ import main
from server.ingest.found_ports import FoundPort, PortSearch

FOUND = [
    FoundPort("/dev/ttyACM0", "/dev/serial/by-id/usb-board", "USB serial", "board", "Slipring board B T-1"),
    FoundPort("/dev/ttyS0", "", "", "silent", "no answer"),
]


def test_each_port_is_a_line_with_the_name_that_lasts(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(PortSearch, "found", lambda search: FOUND)
    assert main(["ports"]) == 0
    said = capsys.readouterr()
    assert said.out == "/dev/serial/by-id/usb-board\tSlipring board B T-1\tUSB serial\n/dev/ttyS0\tno answer\t\n"
    assert said.err == ""


def test_json_lines_hold_every_field(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.setattr(PortSearch, "found", lambda search: FOUND)
    assert main(["ports", "--json"]) == 0
    lines = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert [line["port"] for line in lines] == ["/dev/ttyACM0", "/dev/ttyS0"]
    assert set(lines[0]) == {"port", "stable", "description", "kind", "says"}


def test_no_port_is_said_beside_the_data(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.setattr(PortSearch, "found", lambda search: [])
    assert main(["ports"]) == 0
    said = capsys.readouterr()
    assert said.out == ""
    assert "slipring serve --demo" in said.err
