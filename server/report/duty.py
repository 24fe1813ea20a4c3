"""How a motor was used in a run: starts, cycles, duration factor, and each figure over its cycles. Pure."""

from collections.abc import Sequence
from typing import Any

from server.duty.cycle import FIGURES, Cycle, Figure, Kind
from server.duty.factor import usage_of
from server.duty.table import cycle_read, not_kept
from server.report.report import DUTY, Extra
from server.report.words import length, measured, number
from server.rounding import decimals_of

_HEAD = ("figure of a cycle", "first", "last", "lowest", "highest", "cycles")
_SHARES = (2.4, 2.2, 2.2, 1.3, 1.3, 0.9)


def duty_part(record: dict[str, Any]) -> Extra:
    """Of all cycles, the one that has not ended among them; `record`: of a CycleTable."""
    told = [cycle_read(each) for each in (*record["table"], record["under_way"]) if each is not None]
    if not told:
        return Extra(DUTY, "No cycle was seen: the motor was not switched on, or its state is not known.")
    starts = record["starts"] + (record["under_way"] is not None and told[-1].is_start)
    usage = usage_of(told)
    said = [f"{number(starts, 0)} {'start' if starts == 1 else 'starts'}"]
    said.append(f"cyclic duration factor {figure_words(usage.duration_factor, '%', 1)}")
    said.append(f"starts per hour {figure_words(usage.starts_per_hour, '', 1)}")
    sentence = f"{', '.join(said)}; cycles known whole: {number(usage.whole, 0)}"
    sentence += f", left out: {number(usage.left_out, 0)}." if usage.left_out else "."
    if of_which := not_kept(record):
        sentence += f" Factor, starts per hour and figures are {of_which}."
    if record["hidden_s"]:
        sentence += f" In {length(record['hidden_s'])} without samples more may have happened."
    rows = tuple(row for kind in FIGURES if (row := _row(kind, told)))
    return Extra(DUTY, sentence, (_HEAD, *rows) if rows else (), _SHARES, (1, 2, 3, 4, 5))


def _row(kind: Kind, cycles: Sequence[Cycle]) -> tuple[str, ...]:
    """Empty where no cycle has a value that is no bound."""
    known = [each.figures[kind.key] for each in cycles if each.value(kind.key) is not None]
    if not known:
        return ()
    values = [each.value for each in known if each.value is not None]
    halves = [each.half for each in known if each.half is not None]
    decimals = decimals_of(max(halves, default=None), kind.digits)
    ends = (number(min(values), decimals), number(max(values), decimals))
    pair = (figure_words(known[0], kind.unit, kind.digits), figure_words(known[-1], kind.unit, kind.digits))
    return (kind.label, *pair, *ends, number(len(values), 0))


def figure_words(its: Figure, unit: str, digits: int) -> str:
    """A figure with its bound and its ±, or why it is not known."""
    if its.value is None:
        return f"not known: {its.reason}"
    bound = f"{its.bound.value} " if its.bound.value else ""
    return f"{bound}{measured(its.value, unit, its.half, digits)}"
