"""A judgement as a record for API, page and command line. Pure."""

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from server.duty.cycle import FIGURES, Figure
from server.duty.drift import Drift
from server.duty.factor import Usage
from server.duty.types import DutyType
from server.test_plan.judge import Judgement

_LABELS = {each.key: each for each in FIGURES}


def judgement_record(its: Judgement) -> dict[str, Any]:
    """Ready for JSON; times are UTC seconds, a number that is not known is null."""
    sums, ahead = its.counted, its.ahead
    return {
        "outcome": its.outcome.value,
        "reasons": list(its.reasons),
        "unknown": list(its.unknown),
        "passed_utc_s": its.passed_utc_s,
        "failures": [asdict(each) for each in its.failures],
        "failures_count": its.failures_count,
        "cycles": sums.starts,
        "hours": sums.on_s / 3600.0,
        "watched_s": sums.watched_s,
        "unknown_s": sums.unknown_s,
        "hidden_s": sums.hidden_s,
        "left": {
            "seconds": ahead.seconds,
            "u95": ahead.half,
            "reason": ahead.reason,
            "cycles": ahead.cycles,
            "hours": None if ahead.on_s is None else ahead.on_s / 3600.0,
            "by": ahead.by,
        },
        **duty_record(its.usage, its.duty_type, its.drifts),
        "equilibrium": None if its.equilibrium is None else asdict(its.equilibrium),
    }


def duty_record(usage: Usage, shown: DutyType, drifts: Mapping[str, Drift]) -> dict[str, Any]:
    """How a motor was used, and what changed from cycle to cycle."""
    return {
        "duty_factor_percent": figure_record(usage.duration_factor),
        "starts_per_hour": figure_record(usage.starts_per_hour),
        "cycles_whole": usage.whole,
        "duty_type": {
            "name": shown.name,
            "words": shown.words or "no duty type seen yet",
            "missing": list(shown.missing),
        },
        "drifts": [_drift(key, each) for key, each in drifts.items()],
    }


def figure_record(figure: Figure) -> dict[str, Any]:
    """A figure with its half width, its bound in words, and its reason."""
    return {"value": figure.value, "u95": figure.half, "bound": figure.bound.value, "reason": figure.reason}


def _drift(key: str, its: Drift) -> dict[str, Any]:
    kind = _LABELS[key]
    return {
        "key": key,
        "label": kind.label,
        "unit": kind.unit,
        "per_cycle": its.slope,
        "low95": its.low,
        "high95": its.high,
        "chance": its.chance,
        "cycles": its.cycles,
        "significant": its.significant,
    }
