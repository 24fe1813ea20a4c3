"""A child process of low priority that makes a file for the service: one line of JSON in, lines of JSON out.

It ends itself when its standard input closes, so that nothing goes on without the service.
"""

import json
import sys
from collections.abc import Callable
from math import isfinite
from pathlib import Path
from typing import Any, TypeAlias

from server.export.format import ExportError
from server.export.place import PART
from server.runs.in_child import begin_quietly

Answer: TypeAlias = Callable[[dict[str, Any], Callable[[float], None]], dict[str, Any]]


def main(answer: Answer) -> int:
    """Exit code: 0 done, 1 it could not be; the last line says which. `answer` may tell how far it is."""
    said = json.loads(sys.stdin.readline())
    begin_quietly(lambda: _remove_part(said.get("target")))
    told_share = -1.0

    def share(now: float) -> None:
        nonlocal told_share
        if isfinite(now) and now >= told_share + 0.01:
            told_share = now
            print(json.dumps({"share": round(now, 2)}), flush=True)

    try:
        print(json.dumps(answer(said, share)), flush=True)
    except (ExportError, OSError) as error:
        gone = next((run for run in _runs(said) if not run.is_dir()), None)
        trouble = str(getattr(error, "strerror", None) or error)
        if gone is not None:  # whatever was read of it just then
            trouble = f"the run {gone.name} was deleted; bring it back under Runs and try again"
        print(json.dumps({"trouble": trouble}), flush=True)
        return 1
    return 0


def _runs(said: dict[str, Any]) -> list[Path]:
    return [Path(said["run"])] if "run" in said else []


def _remove_part(target: str | None) -> None:
    if target is not None:
        Path(target + PART).unlink(missing_ok=True)
