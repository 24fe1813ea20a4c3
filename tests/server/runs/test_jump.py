"""A place in a run begins with what held there: settings, calibrations and the description."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from server.runs.digest import CHANGES_MAX
from server.runs.jump import BEFORE_S, entries_at
from server.runs.layout import Entry, Kind
from server.runs.library import Library
from server.runs.sum_up import summed_up
from tests.server.runs.recordings import OPENED_UTC_S, recorded_run
from tests.server.tiny_board import TinyBoard

LONG = ((20.0, 230.0, 0.5, 0.0),)
AT_UTC_S = OPENED_UTC_S + 15.0
BEGIN_UTC_S = AT_UTC_S - BEFORE_S


@pytest.fixture
def run(tmp_path: Path) -> Iterator[tuple[Path, dict[str, Any]]]:
    library = Library(tmp_path / "runs")
    path = library.folder / recorded_run(library, story=LONG, board=TinyBoard(inputs=()))
    yield path, summed_up(path)
    library.close()


def first(run: Path, digest: dict[str, Any], count: int = 6) -> list[tuple[Kind, str]]:
    jumped = entries_at(run, digest, AT_UTC_S)
    assert jumped is not None
    found = [each for _, each in zip(range(count), jumped, strict=False) if isinstance(each, Entry)]
    return [(each.kind, "" if each.kind in (Kind.KEPT, Kind.CHUNK) else each.text) for each in found]


def test_it_begins_ten_seconds_before_with_the_description_and_goes_on_to_the_end(
    run: tuple[Path, dict[str, Any]],
) -> None:
    path, digest = run
    jumped = entries_at(path, digest, AT_UTC_S)
    assert jumped is not None
    entries = [each for each in jumped if isinstance(each, Entry)]
    assert [each.kind for each in entries[:3]] == [Kind.BEGIN, Kind.KEPT, Kind.CHUNK]
    assert entries[2].utc_s == pytest.approx(BEGIN_UTC_S, abs=0.11)
    assert entries[-1].kind is Kind.CLOSE


def test_the_settings_and_the_calibration_that_held_there_are_used(run: tuple[Path, dict[str, Any]]) -> None:
    path, digest = run
    later_utc_s = BEGIN_UTC_S + 0.5
    digest["settings"] = [(OPENED_UTC_S, "first"), (OPENED_UTC_S + 4.0, "second"), (later_utc_s, "of later")]
    digest["calibrations"] = [(OPENED_UTC_S + 1.0, "a"), (OPENED_UTC_S + 2.0, "b"), (later_utc_s, "of later")]
    assert first(path, digest)[:3] == [(Kind.BEGIN, "second"), (Kind.CALIBRATION, "b"), (Kind.KEPT, "")]


@pytest.mark.parametrize("key", ["settings", "described", "calibrations"])
def test_where_not_all_changes_are_known_the_whole_way_is_played(run: tuple[Path, dict[str, Any]], key: str) -> None:
    path, digest = run
    assert entries_at(path, {**digest, key: [(OPENED_UTC_S, "00")] * CHANGES_MAX}, AT_UTC_S) is None
    if key != "calibrations":  # a run may have none
        assert entries_at(path, {**digest, key: []}, AT_UTC_S) is None
