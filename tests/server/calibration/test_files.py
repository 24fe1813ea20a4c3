"""One file a board: kept, taken back, damaged by hand and corrected, of the wrong board, of a board with any number."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from server.calibration.entry import What, stated
from server.calibration.files import CalibrationFiles
from server.calibration.text import parse_calibration
from server.config import ConfigError
from tests.server.calibration.boards import LIMITED, MADE_UTC_S, entry

AMPS = LIMITED[1]
FIRST, SECOND = entry(What.GAIN, AMPS, 1.02, 0.001), entry(What.GAIN, AMPS, 1.03, 0.001)


def loaded(folder: Path) -> CalibrationFiles:
    files = CalibrationFiles(folder)
    files.load()
    return files


def test_what_is_kept_is_there_at_the_next_start(tmp_path: Path) -> None:
    loaded(tmp_path / "calibration").keep("T-1", FIRST)
    again = loaded(tmp_path / "calibration")
    assert again.of("T-1").entries == (FIRST,)
    assert parse_calibration(again.texts["T-1"], "").entries == (FIRST,)
    assert again.of("T-2").entries == ()


def test_undo_brings_the_one_before_back_and_the_history_stays(tmp_path: Path) -> None:
    files = loaded(tmp_path)
    files.keep("T-1", FIRST)
    files.keep("T-1", SECOND)
    assert files.of("T-1").holds(What.GAIN, stated(AMPS)) == SECOND
    assert files.undo("T-1", What.GAIN, stated(AMPS), MADE_UTC_S + 60.0) == SECOND
    assert files.undo("T-1", What.ZERO, stated(AMPS), MADE_UTC_S + 60.0) is None
    its = loaded(tmp_path).of("T-1")
    assert its.holds(What.GAIN, stated(AMPS)) == FIRST
    assert its.entries[1].undone == datetime.fromtimestamp(MADE_UTC_S + 60.0, UTC)
    assert parse_calibration(files.texts["T-1"], "").entries == (FIRST,)


@pytest.mark.parametrize("serial", ["SB/../../etc", ".hidden", "..", "ä € 漢", "a b", "CON", "x" * 40])
def test_any_serial_number_names_a_file_inside_the_folder(tmp_path: Path, serial: str) -> None:
    loaded(tmp_path).keep(serial, FIRST)
    (path,) = tmp_path.iterdir()
    assert path.parent == tmp_path
    assert not path.name.startswith(".")
    assert loaded(tmp_path).of(serial).entries == (FIRST,)


def test_a_board_without_a_serial_number_cannot_be_calibrated(tmp_path: Path) -> None:
    with pytest.raises(ConfigError, match="tells no serial number"):
        loaded(tmp_path).keep("", FIRST)


def test_a_file_damaged_by_hand_is_refused_left_alone_and_taken_again_once_corrected(tmp_path: Path) -> None:
    files = loaded(tmp_path)
    files.keep("T-1", FIRST)
    path = files.file("T-1")
    right = path.read_text()
    path.write_text(right.replace("value = 1.02", "value = 1,02"))
    files = loaded(tmp_path)
    line = right[: right.index("value = ")].count("\n") + 1
    assert f"{path}, line {line}: this is not TOML" in str(files.refused["T-1"])
    with pytest.raises(ConfigError, match="this is not TOML"):
        files.keep("T-1", SECOND)
    assert "1,02" in path.read_text()
    assert files.look_again() == []
    path.write_text(right)
    assert files.look_again() == ["T-1"]
    assert files.of("T-1").entries == (FIRST,)
    assert files.refused == {}


def test_the_file_of_another_board_is_refused_with_its_line(tmp_path: Path) -> None:
    files = loaded(tmp_path)
    files.keep("T-1", FIRST)
    files.file("T-1").rename(files.file("T-2"))
    files = loaded(tmp_path)
    said = 'line 3: it is of board "T-1" and stands in a file named for "T-2"; name the file T-1.toml.'
    assert said in str(files.refused["T-2"])
    assert "T-1" not in files.texts


def test_a_folder_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    (tmp_path / "calibration").write_text("this is no folder")
    with pytest.raises(ConfigError, match="cannot be written"):
        loaded(tmp_path / "calibration").keep("T-1", FIRST)
