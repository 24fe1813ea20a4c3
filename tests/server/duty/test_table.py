"""The table of a run's cycles: bounded, and read back as it was kept."""

import json

import pytest

from server.duty.table import CYCLES_MAX, CycleTable, cycle_read, cycle_record, not_kept
from tests.server.duty.test_factor import cycle
from tests.server.duty.tiny_cycles import CYCLE, REST, told


def test_a_cycle_is_read_back_as_it_was_kept() -> None:
    for one in told((REST, *CYCLE * 2)):
        back = cycle_read(json.loads(json.dumps(cycle_record(one, 1_795_615_320.0))))
        assert back.start_s == 1_795_615_320.0
        assert (back.begun, back.ended, back.doubts, back.braked) == (one.begun, one.ended, one.doubts, one.braked)
        for key, figure in one.figures.items():
            assert back.figures[key].value == pytest.approx(figure.value, rel=1e-5)
            assert (back.figures[key].reason, back.figures[key].bound) == (figure.reason, figure.bound)


def test_all_cycles_are_counted_and_the_first_and_the_newest_are_kept() -> None:
    table = CycleTable()
    for number in range(3 * CYCLES_MAX):
        table.take(cycle(number, 4.0, 4.0, hidden_s=1.0 if number == 7 else 0.0), 100.0 * number)
    kept = table.record((cycle(0, 1.0, 0.0), 9e9))
    assert (kept["cycles"], kept["starts"], kept["on_s"], kept["hidden_s"]) == (3000, 3000, 12000.0, 1.0)
    numbers = [each["number"] for each in kept["table"]]
    assert numbers == [*range(1, CYCLES_MAX // 2 + 1), *range(3000 - CYCLES_MAX // 2 + 1, 3001)]
    assert kept["under_way"]["number"] == 3001
    assert len(json.dumps(kept)) < 700_000
    assert not_kept(kept) == "of the first 500 and the newest 500 of 3,000 cycles"
    assert not_kept(CycleTable().record()) == ""
