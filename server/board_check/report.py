"""The outcome as lines: a table for a person, JSON for a script, a report to keep. Pure.

What a board calls itself may hold anything: nothing that a terminal would obey leaves here.
"""

import json
from collections.abc import Iterator
from dataclasses import replace

from server.board_check.record import Record
from server.board_check.verdict import Check, CheckResult, State

Found = list[tuple[Check, CheckResult]]


def judged(checks: tuple[Check, ...], record: Record) -> Found:
    """Every check in reading order with what it saw."""
    seen = ((check, check.judge(record)) for check in checks)
    return [(check, replace(one, what=printable(one.what))) for check, one in seen]


def printable(text: str) -> str:
    return "".join(letter if letter.isprintable() else "\N{REPLACEMENT CHARACTER}" for letter in text)


def summary(found: Found) -> str:
    counts = {state: sum(seen.state is state for _, seen in found) for state in State}
    return ", ".join(f"{counts[state]} {state.value}" for state in State)


def table(found: Found) -> Iterator[str]:
    for check, seen in found:
        yield f"{seen.state.value:9}  {check.name:22}  {seen.what}"
        if seen.state is State.FAILED:
            yield f"{'':9}  {'':22}  {check.mend[0].upper()}{check.mend[1:]} (SPEC.md, section {check.section})."
    yield summary(found)


def json_lines(found: Found) -> Iterator[str]:
    for check, seen in found:
        line = {"check": check.name, "state": seen.state.value, "what": seen.what, "section": check.section}
        if seen.state is State.FAILED:
            line["mend"] = check.mend
        yield json.dumps(line, ensure_ascii=False)


def report(where: str, when: str, version: str, record: Record, found: Found) -> Iterator[str]:
    """What is kept, in Markdown: which board, when, how long, and the table."""
    yield "# Check of a board"
    yield ""
    yield f"- {when}, slipring {version}, {_cell(where)}"
    if record.description is not None:
        who = record.description.identity
        names = f"board {who.serial}, {who.model or 'no model'}, firmware {who.firmware or 'unknown'}"
        yield f"- {_cell(names)}, protocol {who.major}.{who.minor}, start number {who.boot}"
    asked = "was asked" if record.answers else "was not asked anything"
    yield f"- it streamed for {record.seconds:.3g} s and {asked}"
    yield f"- {summary(found)}"
    yield ""
    yield "| check | | seen | SPEC.md |"
    yield "|---|---|---|---:|"
    for check, seen in found:
        mend = f". To mend: {check.mend}" if seen.state is State.FAILED else ""
        yield f"| {check.name} | {seen.state.value} | {_cell(seen.what)}{mend} | {check.section} |"
    yield ""
    yield "What was not tried is not proven. Slipring only watches: this check says nothing of the safety of a board."


def _cell(text: str) -> str:
    """Text of a board's own that is to stay text in Markdown."""
    return "".join(f"\\{letter}" if letter in "\\`*_[]<>|#" else letter for letter in printable(text))
