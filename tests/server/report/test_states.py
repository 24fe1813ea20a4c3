"""How a run was spent: sums hold however often the state changes, and what is not kept is drawn as not known."""

import pytest

from server.report import states as module
from server.report.states import States


def test_sums_are_of_all_changes_and_a_picture_of_the_newest(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "SPELLS_MAX", 10)
    monkeypatch.setattr(module, "CHANGES_MAX", 100)
    states = States()
    for k in range(1000):  # runs for 3 s, rests for 7 s
        states.add(10.0 * k, "running")
        states.add(10.0 * k + 3.0, "resting")
    spent = states.spent(10_000.0)
    assert {state: count for state, (count, _) in spent.items()} == {"running": 1000, "resting": 1000}
    assert [seconds for _, seconds in spent.values()] == [pytest.approx(3000.0), pytest.approx(7000.0)]
    spells = states.spells(10_000.0)
    assert [each.state for each in spells] == ["unknown", "resting", *["running", "resting"] * 4]
    assert (spells[0].from_utc_s, spells[-1].to_utc_s) == (0.0, 10_000.0)
    assert states.at(9995.0) == "resting"


def test_without_any_change_nothing_is_known() -> None:
    assert (States().spells(10.0), States().spent(10.0), States().at(5.0)) == ((), {}, "unknown")
