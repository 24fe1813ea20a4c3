"""`slipring export` as a person types it, and the README's lines that read its files."""

import re
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from server.commands.export import main
from tests.server.export.runs import run_of

ROOT = Path(__file__).resolve().parents[3]
pytestmark = pytest.mark.alone  # as a program it is of low priority: beside other tests it would wait for all of them


@pytest.fixture(scope="module")
def data(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A data folder with one run."""
    folder = tmp_path_factory.mktemp("data")
    run_of(folder / "runs", lost=(range(2000, 2300),))
    return folder


def name_of(data: Path) -> str:
    return next(path.name for path in (data / "runs").iterdir() if path.is_dir())


def test_the_readme_s_lines_read_back_what_each_format_wrote(
    data: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    for suffix in ("csv", "parquet", "npz", "flac"):
        assert main([name_of(data), "--data", str(data), "--as", suffix, "--out", f"run.{suffix}"]) == 0
    waves = ("--what", "waveforms", "--out", "waves.npz")
    assert main([name_of(data), "--data", str(data), "--as", "npz", *waves]) == 0
    capsys.readouterr()
    parts = re.findall(r"```python\n(.*?)```", (ROOT / "README.md").read_text(), re.DOTALL)
    assert len(parts) == 5
    said = []
    for code in parts:
        assert len(code.replace("\n\n", "\n").splitlines()) <= 5
        exec(compile(code, "README.md", "exec"), {})
        said.append(capsys.readouterr().out)
    assert re.fullmatch(r"2026-11-25T14:02:\d\d\.\d{6}Z: [\d.e-]+ A, ± (not known|[\d.e-]+ A)\n", said[0])
    assert "missing" in said[1]
    assert re.fullmatch(r"[\d.]+ A while it ran\n", said[2])
    assert "=1+1 to " in said[3]
    assert "=1+1" in said[4]
    assert "[2000, 300, 300]" in said[4]


def test_what_was_typed_wrong_is_said_with_what_to_do(
    data: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    run = str(data / "runs" / name_of(data))
    for arguments, code, words in (
        ([run, "--as", "ods"], 2, "invalid choice: 'ods'"),
        ([run, "--as", "numpy"], 2, "did you mean npz?"),
        ([run, "--as", "csv", "--from", "14:05", "--to", "14:04"], 1, "rom and to are swapped: 2026-11-25T14:05:00"),
        ([run, "--as", "csv", "--from", "noon"], 2, '"noon" is no time; write 14:05:16'),
        ([run, "--as", "csv", "--form", "14:05"], 2, "did you mean --from?"),
        ([str(tmp_path), "--as", "csv"], 1, "there is no recording in this folder"),
        (["nothing", "--as", "csv", "--data", str(data)], 1, 'slipring: there is no run "nothing"; give its folder'),
        ([run, "--as", "flac", "--what", "readings"], 1, "holds waveforms only"),
        ([run, "--as", "npz", "--from", "15:00"], 1, "has nothing in this span; choose another one"),
        ([run, "--as", "npz", "--out", str(tmp_path / "none" / "x")], 1, "No such file or directory"),
    ):
        if code == 2:
            with pytest.raises(SystemExit, match="2"):
                main(arguments)
        else:
            assert main(arguments) == code
        assert words in capsys.readouterr().err, arguments
    assert list(tmp_path.iterdir()) == []


def test_as_a_program_it_names_the_file_tells_its_size_and_writes_over_nothing(data: Path, tmp_path: Path) -> None:
    command = [sys.executable, "-m", "server", "export", str(data / "runs" / name_of(data)), "--as", "npz"]
    command += ["--what", "waveforms", "--from", "14:02:02", "--to", "2026-11-25T14:02:03Z"]
    path = {"PYTHONPATH": str(ROOT)}
    first = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=False, env=path)
    made = tmp_path / f"{name_of(data)}-waveforms.npz"
    assert (first.returncode, first.stdout.strip()) == (0, made.name)
    assert "MB of waveforms" in first.stderr
    with np.load(made) as file:
        assert file["missing"].size in (999, 1000, 1001)
    again = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=False, env=path)
    assert (again.returncode, again.stdout) == (1, "")
    assert "is there already, and nothing is written over" in again.stderr


def test_the_size_is_told_without_making_anything(data: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    assert main([str(data / "runs" / name_of(data)), "--as", "csv", "--what", "waveforms", "--estimate"]) == 0
    assert list(tmp_path.iterdir()) == []


def test_an_interrupted_export_leaves_nothing_behind(
    data: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def interrupted(self: object, share: float) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("server.commands.export.Progress.tell", interrupted)
    monkeypatch.chdir(tmp_path)
    with pytest.raises(KeyboardInterrupt):
        main([str(data / "runs" / name_of(data)), "--as", "csv", "--what", "waveforms"])
    assert list(tmp_path.iterdir()) == []
