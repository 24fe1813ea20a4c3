"""That a test has passed, kept beside its plan: what is unknown later takes nothing back. Pure.

It holds for what the plan asked for then; one that asks for something else is judged anew.
"""

import json
from collections.abc import Mapping
from hashlib import sha256
from pathlib import PurePath
from typing import Any, TypeVar

from server.test_plan.plan import Plan
from server.test_plan.text import tables_of

FORMAT = 1
AnyPath = TypeVar("AnyPath", bound=PurePath)


def passed_file(plan_file: AnyPath) -> AnyPath:
    """Where that is kept: NAME.passed.json beside NAME.toml."""
    return plan_file.with_suffix(".passed.json")


def passed_record(plan: Plan, utc_s: float) -> dict[str, Any]:
    """What is kept, ready for JSON, of a plan whose test had passed by `utc_s`."""
    return {"format": FORMAT, "asked": _asked(plan), "passed_utc_s": round(utc_s, 3)}


def passed_utc_s(kept: Mapping[str, Any] | None, plan: Plan) -> float | None:
    """When a test of this plan had passed, of what was kept; None: never, or that is no record of ours."""
    said = kept or {}
    utc_s = said.get("passed_utc_s")
    its = said.get("format") == FORMAT and said.get("asked") == _asked(plan)
    return float(utc_s) if its and isinstance(utc_s, int | float) and abs(utc_s) < 1e11 else None


def _asked(plan: Plan) -> str:
    """The same for two texts that ask for the same."""
    return sha256(json.dumps(tables_of(plan), sort_keys=True).encode()).hexdigest()
