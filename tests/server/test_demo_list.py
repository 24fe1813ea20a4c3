"""What the software board says there is to play."""

import pytest

from server import demo_list
from server.demo_board import DemoBoardError
from server.demo_list import FIRST, DemoList
from server.motors import motor_type
from simulator.bench import BENCH_KEYS


def answer(monkeypatch: pytest.MonkeyPatch, script: str) -> None:
    monkeypatch.setattr(demo_list, "COMMAND", ("-c", script))


async def test_every_motor_of_the_bench_is_listed_with_its_stories_and_a_known_type() -> None:
    motors = await DemoList().motors()
    assert [motor.key for motor in motors] == list(BENCH_KEYS)
    assert all(motor.stories and motor_type(motor.type) for motor in motors)
    assert set(FIRST) <= {motor.key for motor in motors}


async def test_it_is_asked_once_and_after_a_failure_again(monkeypatch: pytest.MonkeyPatch) -> None:
    bench = DemoList()
    answer(monkeypatch, "import sys; sys.exit('simulator: the software board needs numba')")
    with pytest.raises(DemoBoardError, match="did not say what there is: simulator: the software board needs numba"):
        await bench.motors()
    answer(monkeypatch, 'print(\'[{"key": "a", "name": "A", "says": "", "type": "", "stories": []}]\')')
    first = await bench.motors()
    answer(monkeypatch, "print('[]')")
    assert await bench.motors() is first


@pytest.mark.parametrize("said", ["", "no json", "[1]", '[{"key": "a"}]'])
async def test_an_answer_that_is_none_is_told(monkeypatch: pytest.MonkeyPatch, said: str) -> None:
    answer(monkeypatch, f"print({said!r})")
    with pytest.raises(DemoBoardError, match="it ended with code 0"):
        await DemoList().motors()


async def test_one_that_does_not_answer_is_ended(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(demo_list, "LIST_S", 0.3)
    answer(monkeypatch, "import time; time.sleep(60)")
    with pytest.raises(DemoBoardError, match="did not say within"):
        await DemoList().motors()
