"""Checks kept with a run: numbered, never written over, put aside when deleted, removed when their time has come."""

from pathlib import Path

import pytest

from server.runs.checks import (
    CHECKS_MAX,
    add_check,
    check_numbers,
    delete_check,
    deleted_checks,
    read_check,
    remove_overdue_checks,
    undo_check,
)
from server.runs.trash import KEPT_S

NOW_UTC_S = 1_795_600_000.0


@pytest.fixture
def run(tmp_path: Path) -> Path:
    made = tmp_path / "20261125-1402-heron-1"
    made.mkdir()
    return made


def kept_words(run: Path) -> dict[int, str]:
    return {number: (read_check(run, number) or {})["word"] for number in check_numbers(run)}


def test_checks_are_numbered_and_never_written_over(run: Path) -> None:
    assert [add_check(run, {"word": word}) for word in "ab"] == [1, 2]
    assert kept_words(run) == {1: "a", 2: "b"}
    with pytest.raises(FileNotFoundError):
        add_check(run / "gone", {})


def test_the_number_of_a_deleted_check_is_given_to_no_other_and_it_comes_back_byte_for_byte(run: Path) -> None:
    add_check(run, {"word": "a"})
    before = (run / "wiring-1.json").read_bytes()
    delete_check(run, 1, NOW_UTC_S)
    assert (check_numbers(run), read_check(run, 1)) == ([], None)
    (deleted,) = deleted_checks(run)
    assert (deleted.number, deleted.deleted_utc_s, deleted.removed_utc_s) == (1, NOW_UTC_S, NOW_UTC_S + KEPT_S)
    assert add_check(run, {"word": "b"}) == 2
    assert undo_check(run, 1)
    assert (run / "wiring-1.json").read_bytes() == before
    assert kept_words(run) == {1: "a", 2: "b"}
    for act in (lambda: undo_check(run, 1), lambda: delete_check(run, 9, NOW_UTC_S)):
        with pytest.raises(FileNotFoundError):
            act()


def test_a_run_holds_so_many_checks_and_as_many_deleted_ones_of_which_the_oldest_goes(run: Path) -> None:
    for number in range(1, CHECKS_MAX + 1):
        assert add_check(run, {"word": "a"}) == number
    assert add_check(run, {"word": "a"}) is None
    for number in range(1, CHECKS_MAX + 1):
        delete_check(run, number, NOW_UTC_S + number)
    assert add_check(run, {"word": "b"}) == CHECKS_MAX + 1
    delete_check(run, CHECKS_MAX + 1, NOW_UTC_S + 1000.0)
    assert [each.number for each in deleted_checks(run)] == list(range(CHECKS_MAX + 1, 1, -1))


def test_a_deleted_check_is_removed_for_good_when_its_time_has_come_and_not_before(run: Path) -> None:
    for _ in range(2):
        add_check(run, {"word": "a"})
    delete_check(run, 1, NOW_UTC_S)
    delete_check(run, 2, NOW_UTC_S + 60.0)
    (run.parent / "catalogue.sqlite").touch()
    assert remove_overdue_checks(run.parent, NOW_UTC_S + KEPT_S - 1.0) == 0
    assert remove_overdue_checks(run.parent, NOW_UTC_S + KEPT_S) == 1
    assert [each.number for each in deleted_checks(run)] == [2]
