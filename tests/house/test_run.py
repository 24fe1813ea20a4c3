"""run.py is what a newcomer types first; what it does with a right command is tried by whoever runs these tests."""

import subprocess
import sys
from importlib.util import module_from_spec, spec_from_file_location
from pathlib import Path

import pytest

from tests.house.test_layout import ROOT


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["dmeo"], "there is no command dmeo; did you mean demo?\n"),
        (["prove"], "python3 run.py"),
        ([], "python3 run.py"),
        (["xyz"], "there is no command xyz\npython3 run.py"),
    ],
)
def test_a_mistyped_command_is_answered_with_the_nearest_and_changes_nothing(arguments: list[str], told: str) -> None:
    done = subprocess.run([sys.executable, "run.py", *arguments], cwd=ROOT, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.startswith(told)


def test_where_uv_is_not_found_pip_has_its_turn(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    spec = spec_from_file_location("slipring_run", ROOT / "run.py")
    assert spec is not None
    assert spec.loader is not None
    run = module_from_spec(spec)
    spec.loader.exec_module(run)
    python = tmp_path / "bin" / "python"
    python.parent.mkdir()
    python.write_text("#!/bin/sh\nexit 1\n")
    python.chmod(0o700)
    monkeypatch.setattr(run, "PYTHON", python)
    assert not run.install_by_uv(["true"], "demo")
