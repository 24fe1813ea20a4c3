"""That a test has passed, kept beside its plan: what is unknown later takes nothing back. Pure.

It holds for what the plan asked for then; one that asks for something else is judged anew.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from hashlib import sha256
from pathlib import PurePath
from typing import Any, TypeVar

from server.test_plan.plan import Plan
from server.test_plan.text import tables_of

FORMAT = 1
UTC_S_MAX = 1e11  # far behind any year of a calendar
AnyPath = TypeVar("AnyPath", bound=PurePath)


def passed_file(plan_file: AnyPath) -> AnyPath:
    """Where that is kept: NAME.passed.json beside NAME.toml."""
    return plan_file.with_suffix(".passed.json")


@dataclass(frozen=True, slots=True)
class Passed:
    """When it had passed, and by which runs: it stands as long as all of these are there, whether they can be read."""

    utc_s: float
    runs: frozenset[str]


def passed_record(plan: Plan, it: Passed) -> dict[str, Any]:
    """What is kept, ready for JSON, of a plan whose test has passed."""
    return {"format": FORMAT, "asked": _asked(plan), "passed_utc_s": round(it.utc_s, 3), "runs": sorted(it.runs)}


def passed_of(kept: Mapping[str, Any] | None, plan: Plan) -> Passed | None:
    """That a test of this plan had passed, of what was kept; None: it had not, or that is no record of ours."""
    said = kept or {}
    utc_s, runs = said.get("passed_utc_s"), said.get("runs")
    if said.get("format") != FORMAT or said.get("asked") != _asked(plan) or not isinstance(runs, list):
        return None
    if not isinstance(utc_s, int | float) or not abs(utc_s) < UTC_S_MAX:
        return None
    return Passed(float(utc_s), frozenset(map(str, runs)))


def _asked(plan: Plan) -> str:
    """The same for two texts that ask for the same."""
    return sha256(json.dumps(tables_of(plan), sort_keys=True).encode()).hexdigest()
