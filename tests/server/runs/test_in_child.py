"""A program that works on a run beside a service that may be watching a motor."""

import subprocess
import sys
from pathlib import Path

import pytest

from server.runs.in_child import NICE

WEIGHED = Path("/proc/self/autogroup")  # sched(7): "The autogroup feature"
PROGRAM = f"""
from server.runs.in_child import begin_quietly
begin_quietly()
print(open("{WEIGHED}").read().split()[-1])
"""


def told(own_session: bool) -> int:
    """How low the session of such a program is weighed."""
    command = [sys.executable, "-c", PROGRAM]
    with subprocess.Popen(command, stdin=-1, stdout=-1, text=True, start_new_session=own_session) as program:
        assert program.stdout is not None
        return int(program.stdout.readline())


@pytest.mark.skipif(not WEIGHED.exists(), reason="this system does not weigh sessions against one another")
def test_its_own_session_is_weighed_as_low_as_the_program_and_that_of_a_person_is_left() -> None:
    ours = int(WEIGHED.read_text().split()[-1])
    assert (told(own_session=True), told(own_session=False)) == (NICE, ours)
