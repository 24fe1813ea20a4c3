"""Settings kept in one file and put back: all of them or none, whatever the file is."""

import io
import json
import os
import zipfile
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.__main__ import main
from server.commands.backup import ABOUT, packed
from server.commands.restore import RestoreError, unpacked
from server.data_folder import hold

RIG = '[rig]\nport = "/dev/ttyACM0"   # the one at the window\n'
RECEIVERS = '[webhook.a]\nurl = "https://hooks.example/S3cret"\n'


@pytest.fixture
def data(tmp_path: Path) -> Path:
    folder = tmp_path / "data"
    for name, text in {
        "rigs/bench.toml": RIG,
        "rigs/pump.toml": RIG,
        "notify.toml": RECEIVERS,
        "secret/token": "T0k",
    }.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(text)
    return folder


def typed(*words: str | Path) -> int:
    return main([str(word) for word in words])


def test_settings_come_back_with_their_comments_on_another_pc(
    data: Path, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    kept, other = tmp_path / "slipring.zip", tmp_path / "other"
    assert typed("backup", kept, "--data", data) == 0
    assert kept.stat().st_mode & 0o777 == 0o600
    said = capfd.readouterr().err
    assert "2 files of settings" in said
    assert "notify.toml is not in it, as secrets may stand there" in said
    assert b"S3cret" not in kept.read_bytes()
    assert typed("restore", kept, "--data", other, "--look") == 0
    assert capfd.readouterr().out == "new      rigs/bench.toml\nnew      rigs/pump.toml\n"
    assert not other.exists()
    assert typed("restore", kept, "--data", other) == 0
    assert (other / "rigs" / "bench.toml").read_text() == RIG
    assert not (other / "secret" / "token").exists()
    assert typed("backup", kept, "--data", data) == 1
    assert "is there already, and nothing is written over it" in capfd.readouterr().err
    assert typed("backup", tmp_path / "none" / "x.zip", "--data", data) == 1
    assert f"there is no folder {tmp_path / 'none'}; make it" in capfd.readouterr().err


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() != 0, reason="only root can give files away")
def test_what_root_puts_back_belongs_to_the_owner_of_the_folder_and_what_lies_elsewhere_stays(
    data: Path, tmp_path: Path
) -> None:
    kept, other, elsewhere = tmp_path / "slipring.zip", tmp_path / "other", tmp_path / "elsewhere"
    assert typed("backup", kept, "--with-secrets", "--data", data) == 0
    other.mkdir()
    elsewhere.write_text("root's")
    (other / "linked").hardlink_to(elsewhere)
    (other / "pointed").symlink_to(elsewhere)
    os.chown(other, 63_259, 63_259)  # as the user of the unit, who exists while it runs
    (tmp_path / "link").symlink_to(other)  # as /var/lib/slipring is one
    assert typed("restore", kept, "--data", tmp_path / "link") == 0
    owners = {str(path.relative_to(other)): path.stat().st_uid for path in other.rglob("*")}
    assert owners.pop("linked") == owners.pop("pointed") == elsewhere.stat().st_uid == 0
    assert {"notify.toml", "rigs", "rigs/bench.toml"} <= owners.keys()
    assert set(owners.values()) == {63_259}


def test_what_is_replaced_is_kept_and_what_is_not_in_the_file_stays(
    data: Path, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    kept = tmp_path / "slipring.zip"
    assert typed("backup", kept, "--with-secrets", "--data", data) == 0
    (data / "rigs" / "bench.toml").write_text("[rig]\nbaud = 9600\n")
    (data / "rigs" / "later.toml").write_text(RIG)
    (data / "notify.toml").unlink()
    assert typed("restore", kept, "--data", data) == 0
    assert "2 of 3 files were put back" in capfd.readouterr().err
    assert (data / "rigs" / "bench.toml").read_text() == RIG
    assert (data / "rigs" / "later.toml").read_text() == RIG
    assert (data / "notify.toml").read_text() == RECEIVERS
    assert (data / "notify.toml").stat().st_mode & 0o777 == 0o600
    (before,) = data.glob("before-restore-*")
    assert (before / "rigs" / "bench.toml").read_text() == "[rig]\nbaud = 9600\n"


@pytest.mark.parametrize("fails_at", [0, 1])
def test_what_a_disk_refuses_leaves_all_as_it_was_or_says_what_was_replaced_and_where_the_former_is(
    fails_at: int, data: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    kept = tmp_path / "slipring.zip"
    assert typed("backup", kept, "--data", data) == 0
    for name in ("bench", "pump"):
        (data / "rigs" / f"{name}.toml").write_text("[rig]\nbaud = 9600\n")
    if fails_at:
        real, renamed = os.replace, list[object]()

        def replace(source: Path, target: Path) -> None:
            if str(source).endswith(".writing") and target.parent == data / "rigs":
                renamed.append(target)
                if len(renamed) > 1:
                    raise OSError(28, "No space left on device", str(source), None, str(target))
            real(source, target)

        monkeypatch.setattr(os, "replace", replace)
    else:
        (data / "rigs" / "pump.toml.writing").mkdir()
    capfd.readouterr()
    assert typed("restore", kept, "--data", data) == 1
    said = capfd.readouterr().err
    old = [(data / "rigs" / f"{name}.toml").read_text() != RIG for name in ("bench", "pump")]
    if fails_at:
        assert old == [False, True]
        (before,) = data.glob("before-restore-*")
        assert "(No space left on device); 1 of 2 files were put back (rigs/bench.toml);" in said
        assert f"; what stood there before is in {before}. Mend that and restore again." in said
        assert (before / "rigs" / "bench.toml").read_text() == "[rig]\nbaud = 9600\n"
        assert not list((data / "rigs").glob("*.writing"))
    else:
        assert old == [True, True]
        assert "pump.toml.writing cannot be read or written (Is a directory); nothing was put back." in said
        assert not list(data.glob("before-restore-*"))


def test_nothing_is_put_back_beneath_a_service_that_runs(
    data: Path, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    assert typed("backup", tmp_path / "kept", "--data", data) == 0
    (data / "rigs" / "bench.toml").write_text("")
    with hold(data):
        assert typed("restore", tmp_path / "kept", "--data", data) == 1
    assert "is in use by process" in capfd.readouterr().err
    assert (data / "rigs" / "bench.toml").read_text() == ""


def zipped(files: dict[str, bytes], about: dict[str, object] | None = None) -> bytes:
    written = io.BytesIO()
    with zipfile.ZipFile(written, "w", zipfile.ZIP_DEFLATED) as archive:
        if about is not None:
            archive.writestr(ABOUT, json.dumps(about))
        for name, content in files.items():
            archive.writestr(name, content)
    return written.getvalue()


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "is no backup, or it is damaged; give a file that slipring backup made."),
        (b"PK\x05\x06" + bytes(18), "is no backup of Slipring;"),
        (zipped({"a": b"b"}), "is no backup of Slipring;"),
        (zipped({}, {"format": 2, "version": "0.9", "sha256": {}}), "is of format 2, by Slipring 0.9; this"),
        (zipped({"rigs/a.toml": b""}, {"format": 1, "sha256": {}}), "is damaged at rigs/a.toml; nothing was written."),
        (zipped({}, {"format": 1, "sha256": {"rigs/a.toml": "0"}}), "is damaged: rigs/a.toml is not in it;"),
        (packed({"rigs/../../x.toml": b""}), "holds 'rigs/../../x.toml', which is no settings file;"),
        (packed({"/etc/passwd": b""}), "which is no settings file;"),
        (packed({"secret/token": b""}), "which is no settings file;"),
        (packed({"rigs/a.toml": bytes(20_000_000)}), "of more than 1000000 bytes; it is no backup."),
        (packed({f"rigs/{k}.toml": b"" for k in range(1001)}), "holds 1002 files, which is no backup of settings."),
        (packed({"rigs/a.toml": b"[rig]\nbaud = 'x'\n"}), ": rigs/a.toml, line 2: baud = \"x\": this is not a whole"),
        (packed({"rigs/a.toml": b"\xff"}), ": rigs/a.toml: this is not UTF-8 text;"),
        (packed({"notify.toml": b"[webhook.a]\nurl = 'ftp://S3cret'\n"}), ": notify.toml, line 2: url: this is"),
        (packed({"plans/a.toml": b"x = 1\n"}), ": plans/a.toml"),
        (packed({"rigs/\u00fc.toml": b""}), ".toml: a rig cannot be called"),
        (packed({f"rigs/{'a' * 195}.toml": b""}), "use a to z and digits, then - and _ too, 40 at most"),
        (packed({"rigs/a.toml": b"", "rigs/A.toml": b""}), 'rigs/a.toml: there is a rig "A" already, and many file'),
        (zipped({}, {"format": "\x1b[2J\x07", "version": "\x1b]0;\x07", "sha256": {}}), "format \\u001b[2J\\u0007, by"),
        (zipped({}, {"format": 1, "sha256": {"\x1b[2J": "0"}}), "is damaged: \\u001b[2J is not in it;"),
    ],
)  # fmt: skip
def test_what_is_no_backup_writes_nothing(
    content: bytes, said: str, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "kept").write_bytes(content)
    assert typed("restore", tmp_path / "kept", "--data", tmp_path / "data") == 1
    told = capfd.readouterr().err
    assert said in told
    assert "S3cret" not in told
    assert not {"\x1b", "\x07"} & set(told)
    assert not (tmp_path / "data").exists()


@given(at=st.integers(0, 2000), bit=st.integers(0, 7), cut=st.integers(0, 2000))
def test_no_damage_does_more_than_to_be_refused(
    at: int, bit: int, cut: int, tmp_path_factory: pytest.TempPathFactory
) -> None:
    files = {"rigs/bench.toml": RIG.encode(), "rigs/pump.toml": RIG.encode()}
    whole = bytearray(packed(files))
    whole[at % len(whole)] ^= 1 << bit
    source = tmp_path_factory.getbasetemp() / "damaged.zip"
    for content in (bytes(whole), bytes(packed(files)[: cut % len(whole)])):
        source.write_bytes(content)
        try:
            found = unpacked(source)
        except RestoreError:
            continue
        assert found == files  # the bit was of a time or an attribute
