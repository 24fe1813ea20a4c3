"""Alarms and notes beside a run: kept through kills and flipped bits, and in the order in which they were added."""

import random
from pathlib import Path

import pytest

from server.runs.log.dated import DATED, ENTRY_BYTES_MAX, FILE_BYTES_MAX, Dated, add_dated, read_dated

ALARM = Dated("alarm", 1_795_615_330.5, 10.5, {"reading": "current_rms_a", "limit": 2.0})
NOTE = Dated("note", 1_795_615_331.0, None, {"text": "found a leaf \N{LEAF FLUTTERING IN WIND}\nin the inlet"})


def test_entries_come_back_in_the_order_in_which_they_were_added_or_those_of_a_kind(tmp_path: Path) -> None:
    assert read_dated(tmp_path) == []
    for entry in (ALARM, NOTE, ALARM):
        add_dated(tmp_path, entry)
    assert read_dated(tmp_path) == [ALARM, NOTE, ALARM]
    assert read_dated(tmp_path, ("note",)) == [NOTE]
    assert (tmp_path / DATED).stat().st_mode & 0o777 == 0o600


def test_wherever_a_kill_cut_the_file_what_was_before_stays_and_more_can_be_added(tmp_path: Path) -> None:
    for _ in range(2):
        add_dated(tmp_path, NOTE)
    whole = (tmp_path / DATED).read_bytes()
    for length in range(len(whole)):
        (tmp_path / DATED).write_bytes(whole[:length])
        add_dated(tmp_path, ALARM)
        *before, last = read_dated(tmp_path)
        assert last == ALARM
        least = whole[:length].count(b"\n")
        assert before in ([NOTE] * least, [NOTE] * (least + 1))  # only the end of the line may be missing


def test_no_flipped_bit_makes_another_entry_of_one(tmp_path: Path) -> None:
    for entry in (ALARM, NOTE):
        add_dated(tmp_path, entry)
    whole, draw = (tmp_path / DATED).read_bytes(), random.Random(1)
    for _ in range(200):
        data = bytearray(whole)
        data[draw.randrange(len(data))] ^= 1 << draw.randrange(8)
        (tmp_path / DATED).write_bytes(data)
        found = read_dated(tmp_path)
        assert all(each in (ALARM, NOTE) for each in found)
        assert len(found) <= 2


def test_what_cannot_be_kept_is_refused_and_nothing_is_written(tmp_path: Path) -> None:
    for entry, why in (
        (Dated("note", float("inf"), None, {}), "no time"),
        (Dated("note", 1e9, float("nan"), {}), "not JSON compliant"),
        (Dated("note", 1e9, None, {"text": "x" * ENTRY_BYTES_MAX}), "bytes, at most"),
    ):
        with pytest.raises(ValueError, match=why):
            add_dated(tmp_path, entry)
    with pytest.raises(FileNotFoundError):
        add_dated(tmp_path / "no-such-run", NOTE)
    assert list(tmp_path.iterdir()) == []
    with (tmp_path / DATED).open("wb") as file:
        file.truncate(FILE_BYTES_MAX)
    with pytest.raises(ValueError, match="is full"):
        add_dated(tmp_path, NOTE)


def test_a_link_is_not_followed(tmp_path: Path) -> None:
    outside = tmp_path / "outside"
    outside.write_bytes(b"")
    run = tmp_path / "run"
    run.mkdir()
    (run / DATED).symlink_to(outside)
    with pytest.raises(OSError, match="symbolic links"):
        add_dated(run, NOTE)
    assert outside.read_bytes() == b""
    assert read_dated(run) == []
