"""A program that works on a run beside a service that may be watching a motor."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from server.runs.in_child import NICE

WEIGHED = Path("/proc/self/autogroup")  # sched(7): "The autogroup feature"; empty where a session is in no such group
LOWEST = 19  # setpriority(2)
TELL = f"print(*open('{WEIGHED}').read().split()[-1:])"
QUIETLY = f"from server.runs.in_child import begin_quietly; begin_quietly(); {TELL}"


def told(program: str, *, own_session: bool) -> str:
    """How low the session of such a program is weighed; empty: not at all."""
    command = [sys.executable, "-c", program]
    with subprocess.Popen(command, stdin=-1, stdout=-1, text=True, start_new_session=own_session) as running:
        assert running.stdout is not None
        return running.stdout.readline().strip()


@pytest.mark.skipif(not WEIGHED.exists(), reason="this system does not weigh sessions against one another")
def test_its_own_session_is_weighed_as_low_as_the_program_and_that_of_a_person_is_left() -> None:
    if not told(TELL, own_session=True):  # the file is there and says nothing, as sched_autogroup is off or in a cgroup
        pytest.skip("this system weighs no new session")
    ours = told(TELL, own_session=False)
    low = str(min(os.getpriority(os.PRIO_PROCESS, 0) + NICE, LOWEST))  # these tests may be of low priority themselves
    assert (told(QUIETLY, own_session=True), told(QUIETLY, own_session=False)) == (low, ours)
