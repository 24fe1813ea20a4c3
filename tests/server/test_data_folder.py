"""The data folder: where it is, who may read the secret, one service at a time."""

import os
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from server.access.entrance import Entrance
from server.access.sessions import Sessions
from server.data_folder import (
    DataFolderError,
    default_data_folder,
    held_address,
    hold,
    make_folder,
    say_who,
    token_file,
)


def entrance(folder: Path, token: str) -> Entrance:
    return Entrance(token, Sessions(folder / "sessions.json", lambda: 0.0))


def test_the_folder_is_where_the_xdg_specification_puts_data(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(sys, "platform", "linux")
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.delenv("XDG_DATA_HOME", raising=False)
    assert default_data_folder() == tmp_path / ".local" / "share" / "slipring"
    monkeypatch.setenv("XDG_DATA_HOME", "/srv/data")
    assert default_data_folder() == Path("/srv/data/slipring")
    monkeypatch.setenv("XDG_DATA_HOME", "relative")  # "All paths set in these environment variables must be absolute"
    assert default_data_folder() == tmp_path / ".local" / "share" / "slipring"


def test_the_token_is_long_and_its_owners_alone(tmp_path: Path) -> None:
    before = os.umask(0)
    try:
        path = token_file(tmp_path / "data")
    finally:
        os.umask(before)
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert stat.S_IMODE(path.parent.stat().st_mode) == 0o700
    assert stat.S_IMODE((tmp_path / "data").stat().st_mode) == 0o700
    assert len(path.read_text()) >= 192 / 6  # six bits a character


def test_the_token_stays_the_same_until_others_could_read_it(tmp_path: Path) -> None:
    first = token_file(tmp_path).read_text()
    assert token_file(tmp_path).read_text() == first
    token_file(tmp_path).chmod(0o644)
    second = token_file(tmp_path)
    assert second.read_text() != first
    assert stat.S_IMODE(second.stat().st_mode) == 0o600


@pytest.mark.parametrize("left", [b"", b"8gk2", b"\0" * 43, bytes(range(150, 200)), b"no token at all " * 3])
def test_a_damaged_token_is_replaced(tmp_path: Path, left: bytes) -> None:
    path = token_file(tmp_path)
    path.write_bytes(left)
    assert token_file(tmp_path) == path
    entrance(tmp_path, path.read_text(encoding="ascii"))  # raises if it is damaged
    assert path.read_bytes() != left
    assert stat.S_IMODE(path.stat().st_mode) == 0o600


def test_a_token_that_a_person_wrote_is_kept(tmp_path: Path) -> None:
    path = token_file(tmp_path)
    path.write_text("my-own-token-of-more-than-thirty-two-characters\n")
    assert token_file(tmp_path).read_text() == "my-own-token-of-more-than-thirty-two-characters\n"


def test_a_kill_or_a_full_disk_while_the_token_is_made_leaves_none_or_a_whole_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr("server.data_folder.os.fsync", full)
        with pytest.raises(DataFolderError, match=r"No space left on device\); choose another folder with --data DIR"):
            token_file(tmp_path)
    assert list((tmp_path / "secret").iterdir()) == []
    command = (
        "import os, signal; from pathlib import Path; from server import data_folder; "
        "data_folder.os.fsync = lambda _: os.kill(os.getpid(), signal.SIGKILL); "
        f"data_folder.token_file(Path({str(tmp_path)!r}))"
    )
    assert subprocess.run([sys.executable, "-c", command], check=False).returncode < 0
    assert not (tmp_path / "secret" / "token").exists()
    entrance(tmp_path, token_file(tmp_path).read_text())  # raises if it is damaged


def test_a_token_that_cannot_be_read_is_told_with_the_way_out(tmp_path: Path) -> None:
    (tmp_path / "secret" / "token").mkdir(parents=True, mode=0o700)
    with pytest.raises(DataFolderError, match=r"cannot be read or written \(Is a directory\); choose another folder"):
        token_file(tmp_path)


def test_the_second_service_says_who_holds_the_folder(tmp_path: Path) -> None:
    with hold(tmp_path):
        with pytest.raises(DataFolderError, match=rf"{tmp_path} is in use by process {os.getpid()} since \d{{4}}-"):
            hold(tmp_path)
        command = f"from pathlib import Path; from server.data_folder import hold; hold(Path({str(tmp_path)!r}))"
        other = subprocess.run([sys.executable, "-c", command], capture_output=True, text=True, check=False)
        assert f"in use by process {os.getpid()}" in other.stderr
    hold(tmp_path).close()


def test_a_folder_is_free_again_however_its_service_ended(tmp_path: Path) -> None:
    command = (
        "import os, signal; from pathlib import Path; from server.data_folder import hold; "
        f"kept = hold(Path({str(tmp_path)!r})); os.kill(os.getpid(), signal.SIGKILL)"
    )
    assert subprocess.run([sys.executable, "-c", command], check=False).returncode < 0
    hold(tmp_path).close()


def test_a_folder_that_cannot_be_made_is_told_with_the_way_out(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    with pytest.raises(DataFolderError, match=r"cannot be made \(.*\); choose another with --data DIR\."):
        make_folder(tmp_path / "file" / "data")


def test_where_the_service_of_the_folder_is_can_be_read_from_it(tmp_path: Path) -> None:
    assert held_address(tmp_path / "none") == ""
    with hold(tmp_path) as held:
        assert held_address(tmp_path) == ""
        say_who(held, "http://127.0.0.1:8421/")
        assert held_address(tmp_path) == "http://127.0.0.1:8421"
    (tmp_path / "in-use").write_text("process 7 at http://evil/ since today")
    assert held_address(tmp_path) == ""
