"""`slipring report` as a person types it."""

import io
import re
import subprocess
import sys
from pathlib import Path

import pytest
from pypdf import PdfReader

from server.commands.report import main
from tests.server.export.runs import run_of

ROOT = Path(__file__).resolve().parents[3]
pytestmark = pytest.mark.alone  # as a program it is of low priority: beside other tests it would wait for all of them


def test_pdf_and_page_are_written_and_nothing_is_written_over(tmp_path: Path) -> None:
    run = run_of(tmp_path / "data" / "runs")
    command = [sys.executable, "-m", "server", "report", run.name, "--data", str(tmp_path / "data")]
    where = {"cwd": tmp_path, "env": {"PYTHONPATH": str(ROOT), "TZ": "Europe/Berlin"}}
    first = subprocess.run(command, capture_output=True, text=True, check=False, **where)  # type: ignore[call-overload]  # of the test
    assert (first.returncode, first.stdout.strip()) == (0, f"{run.name}-report.pdf")
    assert re.fullmatch(r"(\d+%\n)*", first.stderr)  # how far it is, of what takes more than two seconds
    text = PdfReader(io.BytesIO((tmp_path / f"{run.name}-report.pdf").read_bytes())).pages[0].extract_text()
    assert "It ran, but it stalled" in text
    assert "15:02:00" in text.replace("\n", " ")  # 14:02 UTC
    again = subprocess.run(command, capture_output=True, text=True, check=False, **where)  # type: ignore[call-overload]  # of the test
    assert (again.returncode, again.stdout) == (1, "")
    assert "is there already, and nothing is written over" in again.stderr


def test_a_page_is_made_for_other_paper_and_what_is_no_run_is_said(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    run = run_of(tmp_path / "data" / "runs", ((1.0, 230.0, 0.5, 1400.0),))
    page = tmp_path / "run.html"
    assert main([str(run), "--html", str(page), "--paper", "letter"]) == 0
    assert "@page { size: letter;" in page.read_text()
    assert main([str(tmp_path), "--pdf", str(tmp_path / "x.pdf")]) == 1
    assert "there is no recording in this folder; give a run's folder" in capsys.readouterr().err
    assert not (tmp_path / "x.pdf").exists()
