"""One command checks it all: lint, format, types of both languages, and the page's own tests."""

import subprocess
import sys
from pathlib import Path

import pytest

from dashboard.build_page import install_packages, node_and_npm

ROOT = Path(__file__).resolve().parent.parent.parent
DASHBOARD = ROOT / "dashboard"


def passes(command: list[str], folder: Path = ROOT) -> None:
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)
    assert done.returncode == 0, (done.stdout + done.stderr)[-6000:]


@pytest.mark.parametrize(
    "check", [["ruff", "check"], ["ruff", "format", "--check"], ["mypy"]], ids=["lint", "format", "types"]
)
def test_python_is_clean(check: list[str]) -> None:
    passes([sys.executable, "-m", *check])


@pytest.fixture(scope="module")
def node() -> str:
    if not (DASHBOARD / "node_modules" / ".package-lock.json").exists():
        install_packages()
    return str(node_and_npm()[0])


def test_the_pages_types_are_clean_and_its_floors_hold(node: str) -> None:
    passes([node, "node_modules/typescript/bin/tsc", "-b"], DASHBOARD)


def test_the_pages_own_tests_pass(node: str) -> None:
    passes([node, "node_modules/vitest/vitest.mjs", "run"], DASHBOARD)
