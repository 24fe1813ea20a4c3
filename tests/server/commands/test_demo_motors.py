"""`slipring demo-motors`, and what `serve --demo-motor` refuses."""

import json

import pytest

from server import demo_list
from server.__main__ import main
from server.commands import serve

COMMAND = ("-c", "print('[{\"key\":\"pump\",\"name\":\"a pump\",\"says\":\"pumps\",\"type\":\"\",\"stories\":"
                 "[{\"name\":\"start\",\"says\":\"it starts\",\"lasts_s\":9}]}]')")  # fmt: skip


@pytest.fixture(autouse=True)
def bench(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(demo_list, "COMMAND", COMMAND)


def test_each_story_is_a_line_with_what_to_write_to_start_it(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["demo-motors"]) == 0
    assert capsys.readouterr().out == "pump\ta pump: pumps\n    pump:start\t9 s\tit starts\n"


def test_json_lines_hold_every_field(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["demo-motors", "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert set(said) == {"key", "name", "says", "type", "stories"}


def test_a_bench_that_cannot_be_asked_is_a_failure(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(demo_list, "COMMAND", ("-c", "import sys; sys.exit('no numba')"))
    assert main(["demo-motors"]) == 1
    assert "no numba" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("wanted", "sentence"),
    [
        ("pum", "There is no demo motor pum; the nearest is pump."),
        ("pump:strat", 'The demo motor pump has no story "strat"; the nearest is start.'),
    ],
)
def test_a_mistyped_motor_or_story_starts_no_service(
    wanted: str, sentence: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["serve", "--demo-motor", wanted]) == 2
    assert sentence in capsys.readouterr().err


def test_more_demo_motors_than_a_service_starts_are_refused(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(serve, "DEMOS_MAX", 1)
    assert main(["serve", "--demo-motor", "pump", "--demo-motor", "pump:start"]) == 2
    assert "2 demo motors are too many; start at most 1" in capsys.readouterr().err
