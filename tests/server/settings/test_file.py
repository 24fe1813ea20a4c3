"""Settings on disk: the file is whole or as it was, one previous version stays, nothing else is touched."""

import errno
import os
from collections.abc import Callable
from functools import partial
from pathlib import Path

import pytest

from server.config import ConfigError, MotorSettings, Plate, RigSettings
from server.settings.file import read_rig, remove_rig, rig_names, undo_rig, write_rig

FIRST = RigSettings("bench", port="/dev/ttyACM0")
SECOND = RigSettings("bench", port="socket://127.0.0.1:7000", motor=MotorSettings("pump", "", Plate(voltage_v=12.0)))


def test_what_was_written_is_read_and_the_one_before_is_kept(tmp_path: Path) -> None:
    folder = tmp_path / "rigs"
    write_rig(folder, FIRST)
    before = (folder / "bench.toml").read_text()
    write_rig(folder, SECOND)
    assert read_rig(folder, "bench").settings == SECOND
    assert (folder / "bench.toml.previous").read_text() == before
    assert rig_names(folder) == ["bench"]
    assert sorted(path.name for path in folder.iterdir()) == ["bench.toml", "bench.toml.previous"]


def fails_at(call: str, number: int, doing: Callable[[], object]) -> bool:
    """Whether it raises where call `number` of this function of `os` fails; False: it was not called so often."""
    real, calls = getattr(os, call), 0

    def once(*arguments: object) -> object:
        nonlocal calls
        calls += 1
        if calls == number:
            raise OSError(errno.EIO, "planted")
        return real(*arguments)

    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(os, call, once)
        try:
            doing()
        except OSError:
            return True
    return False


@pytest.mark.parametrize("call", ["fsync", "replace"])
def test_whichever_step_fails_the_file_is_the_old_one_or_the_new_one(call: str, tmp_path: Path) -> None:
    for failing in range(1, 10):
        folder = tmp_path / str(failing)
        write_rig(folder, FIRST)
        failed = fails_at(call, failing, partial(write_rig, folder, SECOND))
        assert read_rig(folder, "bench").settings in (FIRST, SECOND)
        if not failed:
            assert failing > 1
            assert read_rig(folder, "bench").settings == SECOND
            return
    pytest.fail("no call went through")


def test_a_removed_rig_leaves_its_file_as_the_previous_one(tmp_path: Path) -> None:
    write_rig(tmp_path, FIRST)
    remove_rig(tmp_path, "bench")
    remove_rig(tmp_path, "bench")
    assert rig_names(tmp_path) == []
    assert 'name = "bench"' in (tmp_path / "bench.toml.previous").read_text()


@pytest.mark.parametrize("name", ["", "..", "../x", "a/b", "a.b", "-x", "ä", "x" * 41, "a\0b", "a\n"])
def test_a_name_that_could_be_another_file_is_refused(name: str, tmp_path: Path) -> None:
    with pytest.raises(ConfigError, match="a rig cannot be called"):
        write_rig(tmp_path, RigSettings(name))
    assert list(tmp_path.iterdir()) == []


def test_no_folder_means_no_rigs(tmp_path: Path) -> None:
    assert rig_names(tmp_path / "missing") == []


def test_files_that_are_no_settings_are_not_rigs(tmp_path: Path) -> None:
    for name in ("bench.toml.previous", "bench.toml.writing", "notes.txt", ".toml", "a b.toml"):
        (tmp_path / name).write_text("")
    assert rig_names(tmp_path) == []


def test_a_file_that_is_not_text_or_not_there_is_refused_in_words(tmp_path: Path) -> None:
    (tmp_path / "bench.toml").write_bytes(b"[rig]\nname = '\xff'")
    with pytest.raises(ConfigError, match=r"bench\.toml, line 2: this is not UTF-8 text; save the file as UTF-8\."):
        read_rig(tmp_path, "bench")
    with pytest.raises(ConfigError, match="it cannot be read"):
        read_rig(tmp_path, "other")


@pytest.mark.skipif(os.name == "nt", reason="there are no such files")
@pytest.mark.parametrize("kind", ["pipe", "folder", "endless", "sparse"])
def test_what_is_no_settings_file_is_refused_at_once_and_put_aside_when_settings_are_written(
    kind: str, tmp_path: Path
) -> None:
    path = tmp_path / "bench.toml"
    if kind == "pipe":
        os.mkfifo(path)
    elif kind == "folder":
        path.mkdir()
    elif kind == "endless":
        path.symlink_to("/dev/zero")
    else:
        path.touch()
        os.truncate(path, 1 << 40)  # more than any memory
    with pytest.raises(ConfigError, match=r"bench\.toml: (this is no file|it is longer than 64000 bytes); "):
        read_rig(tmp_path, "bench")
    write_rig(tmp_path, FIRST)
    assert read_rig(tmp_path, "bench").settings == FIRST
    assert os.path.lexists(tmp_path / "bench.toml.previous")


@pytest.mark.parametrize("call", ["fsync", "replace"])
def test_whichever_step_of_undoing_fails_nothing_is_lost(call: str, tmp_path: Path) -> None:
    for failing in range(1, 10):
        folder = tmp_path / str(failing)
        write_rig(folder, FIRST)
        write_rig(folder, SECOND)
        failed = fails_at(call, failing, partial(undo_rig, folder, "bench"))
        assert read_rig(folder, "bench").settings in (FIRST, SECOND)
        texts = [path.read_text() for path in folder.iterdir()]
        assert any("ttyACM0" in text for text in texts)
        assert any("pump" in text for text in texts)
        if not failed:
            assert failing > 1
            assert read_rig(folder, "bench").settings == FIRST
            return
    pytest.fail("no call went through")


def test_writing_what_stands_there_already_is_no_change_and_leaves_the_undo(tmp_path: Path) -> None:
    folder = tmp_path / "rigs"
    write_rig(folder, FIRST)
    write_rig(folder, SECOND)
    before = (folder / f"{FIRST.name}.toml.previous").read_bytes()
    write_rig(folder, SECOND)
    assert (folder / f"{FIRST.name}.toml.previous").read_bytes() == before
