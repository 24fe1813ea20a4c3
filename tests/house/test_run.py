"""run.py is what a newcomer types first; what it does with a right command is tried by whoever runs these tests."""

import subprocess
import sys

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
