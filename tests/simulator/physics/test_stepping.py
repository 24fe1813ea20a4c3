"""The compiled loops: what happens without the compiler, and without a place for what it made."""

import subprocess
import sys
from collections.abc import Callable

import pytest

from simulator.physics import stepping


def test_without_numba_one_sentence_names_the_extra_to_install() -> None:
    code = "import sys; sys.modules['numba'] = None; import simulator.motors"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.stderr.splitlines()[-1].endswith("the software board needs numba: pip install 'slipring[demo]'")


def test_without_a_place_to_keep_machine_code_it_is_made_anew(monkeypatch: pytest.MonkeyPatch) -> None:
    def njit(cache: bool = False, **_: object) -> Callable[[object], object]:
        def keep(function: object) -> object:
            if cache:
                raise RuntimeError("cannot cache function: no locator available")
            return function

        return keep

    monkeypatch.setattr(stepping, "njit", njit)
    assert stepping.compiled(len)("four") == 4


@pytest.mark.parametrize(
    ("rate_hz", "longest_step_s", "steps"),
    [
        (20_000, 50e-6, 1),
        (19_999, 50e-6, 1),
        (19_000, 50e-6, 2),
        (30_000, 50e-6, 1),
        (2_000, 50e-6, 10),
        (20_000, 2e-6, 25),
    ],
)
def test_a_sample_has_as_few_steps_as_it_may(rate_hz: float, longest_step_s: float, steps: int) -> None:
    assert stepping.steps_per_sample(rate_hz, longest_step_s) == steps
