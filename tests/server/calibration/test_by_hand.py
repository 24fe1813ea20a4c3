"""A calibration file that a person writes while the service runs: taken, added to, undone, refused."""

import os
from pathlib import Path

import pytest

from server.calibration.entry import What, stated
from server.calibration.files import CalibrationFiles
from server.config import ConfigError
from tests.server.calibration.boards import LIMITED, MADE_UTC_S, entry

AMPS = LIMITED[1]
HERE = stated(AMPS)
FIRST, SECOND = entry(What.GAIN, AMPS, 1.02, 0.001), entry(What.GAIN, AMPS, 1.03, 0.001, MADE_UTC_S + 60.0)
UNDONE_UTC_S = MADE_UTC_S + 120.0


@pytest.fixture
def files(tmp_path: Path) -> CalibrationFiles:
    made = CalibrationFiles(tmp_path)
    made.load()
    made.keep("T-1", FIRST)
    return made


def by_hand(files: CalibrationFiles, old: str, new: str) -> str:
    path = files.file("T-1")
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new))
    return path.read_text()


def values(files: CalibrationFiles) -> list[float]:
    again = CalibrationFiles(files.file("T-1").parent)
    again.load()
    assert again.of("T-1") == files.of("T-1")
    return [each.value for each in again.of("T-1").entries]


def test_what_was_written_by_hand_is_taken_once(files: CalibrationFiles) -> None:
    assert files.look_again() == []
    by_hand(files, "value = 1.02", "value = 1.05")
    assert files.look_again() == ["T-1"]
    assert files.of("T-1").entries[0].value == 1.05
    assert "value = 1.05" in files.texts["T-1"]
    assert files.look_again() == []


def test_a_file_put_there_is_taken(files: CalibrationFiles) -> None:
    text = files.file("T-1").read_text()
    files.file("T-2").write_text(text.replace('serial = "T-1"', 'serial = "T-2"'))
    assert files.look_again() == ["T-2"]
    assert files.of("T-2").entries == (FIRST,)


def test_keeping_adds_to_what_stands_there_now_and_to_its_comments(files: CalibrationFiles) -> None:
    text = by_hand(files, "value = 1.02", "value = 1.05  # by the certificate of 2026\nundone = 2026-11-20T14:03:05Z")
    files.keep("T-1", SECOND)
    assert files.file("T-1").read_text().startswith(text)
    assert values(files) == [1.05, 1.03]


def test_undoing_takes_back_what_holds_in_the_file_now(files: CalibrationFiles) -> None:
    files.keep("T-1", SECOND)
    text = by_hand(files, "value = 1.03", "value = 1.04  # corrected")
    undone = files.undo("T-1", What.GAIN, HERE, UNDONE_UTC_S)
    assert undone is not None
    assert undone.value == 1.04
    assert values(files) == [1.02, 1.04]
    assert files.of("T-1").holds(What.GAIN, HERE) == FIRST
    stays = [line for line in files.file("T-1").read_text().split("\n") if not line.startswith("undone")]
    assert stays == text.split("\n")
    assert files.undo("T-1", What.GAIN, HERE, UNDONE_UTC_S) == FIRST
    assert files.undo("T-1", What.GAIN, HERE, UNDONE_UTC_S) is None


def test_of_two_entries_that_are_the_same_one_is_taken_back(files: CalibrationFiles) -> None:
    files.keep("T-1", FIRST)
    files.undo("T-1", What.GAIN, HERE, UNDONE_UTC_S)
    assert [each.undone is None for each in files.of("T-1").entries] == [True, False]


@pytest.mark.parametrize("act", ["keep", "undo"])
def test_over_what_cannot_be_read_nothing_is_written_and_what_held_goes_on(files: CalibrationFiles, act: str) -> None:
    text = by_hand(files, "value = 1.02", "value = 1,02")
    with pytest.raises(ConfigError, match=r"T-1\.toml, line \d+: this is not TOML.*; write lines such as"):
        _ = files.keep("T-1", SECOND) if act == "keep" else files.undo("T-1", What.GAIN, HERE, UNDONE_UTC_S)
    assert files.file("T-1").read_text() == text
    assert "value = 1.02" in files.texts["T-1"]
    by_hand(files, "value = 1,02", "value = 1.06")
    assert files.look_again() == ["T-1"]
    assert files.refused == {}
    files.keep("T-1", SECOND)
    assert values(files) == [1.06, 1.03]


@pytest.mark.parametrize("form", ["entry = [{ what = 'gain' }]", 'note = """\n[[entry]]\n"""'])
def test_entries_in_a_form_that_cannot_be_changed_are_refused(files: CalibrationFiles, form: str) -> None:
    path = files.file("T-1")
    keys = dict(line.split(" = ") for line in path.read_text().split("[[entry]]\n")[1].strip().split("\n"))
    inside = ", ".join(f"{key} = {value}" for key, value in keys.items())
    if form.startswith("note"):
        keys["reference"] = '"""\n[[entry]]\n"""'
        lines = [f"{key} = {value}" for key, value in keys.items()]
        path.write_text("\n".join(['board.serial = "T-1"', "[[ entry ]]", *lines]))
    else:
        path.write_text(f'board.serial = "T-1"\nentry = [{{ {inside} }}]\n')
    before = path.read_text()
    if form.startswith("note"):
        files.keep("T-1", SECOND)  # the second one stands behind it, whatever stands in a text
        with pytest.raises(ConfigError, match="can read but not change"):
            files.undo("T-1", What.GAIN, HERE, UNDONE_UTC_S)
        assert path.read_text().startswith(before)
        return
    with pytest.raises(ConfigError, match=r"can read but not change; write \[\[entry\]\] above each entry"):
        files.keep("T-1", SECOND)
    assert path.read_text() == before


def test_a_file_that_was_removed_is_gone_at_the_second_look_and_not_written_back(files: CalibrationFiles) -> None:
    files.file("T-1").unlink()
    assert files.look_again() == []
    assert files.of("T-1").entries == (FIRST,)
    assert files.look_again() == ["T-1"]
    assert files.of("T-1").entries == ()
    assert "entry" not in files.texts["T-1"].split("\n", 1)[1]
    assert files.look_again() == []
    files.keep("T-1", SECOND)
    assert values(files) == [1.03]


def test_a_file_that_an_editor_puts_away_for_a_moment_stays(files: CalibrationFiles) -> None:
    path = files.file("T-1")
    away = path.rename(path.with_suffix(".backup"))
    assert files.look_again() == []
    path.write_bytes(away.read_bytes())
    assert files.look_again() == []
    assert files.look_again() == []
    assert files.of("T-1").entries == (FIRST,)


def test_keeping_right_behind_a_removal_begins_anew(files: CalibrationFiles) -> None:
    files.file("T-1").unlink()
    files.keep("T-1", SECOND)
    assert values(files) == [1.03]


def test_a_folder_that_is_not_there_has_not_been_emptied(files: CalibrationFiles, tmp_path: Path) -> None:
    os.rename(tmp_path, tmp_path.with_name("away"))
    assert files.look_again() == []
    assert files.look_again() == []
    assert files.of("T-1").entries == (FIRST,)
    os.rename(tmp_path.with_name("away"), tmp_path)


def test_a_pipe_is_refused_and_never_waited_for(files: CalibrationFiles) -> None:
    path = files.file("T-1")
    path.unlink()
    os.mkfifo(path)
    assert files.look_again() == ["T-1"]
    assert "this is no file" in str(files.refused["T-1"])
    assert files.look_again() == []
    with pytest.raises(ConfigError, match="this is no file"):
        files.keep("T-1", SECOND)
