"""What is to be told to receivers: a notice of an alarm, or a word of the service itself. Pure.

A draft gets its number in the outbox. Its record is what a program reads, its title and lines what a person reads.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from enum import IntEnum
from typing import Any

from server.alarms.notice import Notice, Told
from server.alarms.quiet import time_of_day

TEXT_MAX = 2000  # characters of one text: a sentence of ours has some hundred
_OF_NOW = ("act", "why", "more", "so_s")  # what becomes another while a word is held


class Rank(IntEnum):
    """What goes first where there is no room is the lowest."""

    INFORMATION = 0
    CAUTION = 1
    ALARM = 2


@dataclass(frozen=True, slots=True)
class Draft:
    """`record`: what more a program is told, by plain names."""

    kind: str
    rank: Rank
    at_utc_s: float
    title: str
    record: Mapping[str, str | float | int] = field(default_factory=dict)

    @property
    def whole(self) -> dict[str, str | float | int]:
        """All that a program is told."""
        its: dict[str, str | float | int] = {
            "kind": self.kind,
            "rank": self.rank.name.lower(),
            "title": self.title,
            "at_utc_s": self.at_utc_s,
        }
        return {**its, **self.record}


def of_notice(notice: Notice) -> Draft:
    """The draft of a notice: what to do first stands first."""
    rank = Rank[notice.rank.name]
    title = _title(rank.name, notice.rig, _become(notice.kind, notice.more), notice.act, notice.why)
    texts = {"alarm": notice.id, "rig": notice.rig, "act": notice.act, "why": notice.why, "reading": notice.reading}
    texts |= {"motor": notice.motor, "first_alarm": notice.first_id}
    texts |= {"value": notice.value, "limit": notice.limit, "note": notice.note, "by": notice.by, "run": notice.run}
    record: dict[str, str | float | int] = {key: _cut(text) for key, text in texts.items() if text}
    record |= {"notice": notice.number, **({"more": notice.more, "so_s": notice.so_s} if notice.more else {})}
    return Draft(str(notice.kind), rank, notice.at_utc_s, _cut(title), record)


def late(record: Mapping[str, Any], now: Mapping[str, Any], utc_s: float) -> dict[str, Any]:
    """The record of a word that was held, told at `utc_s`: when it came, and in the words of `now`, the record of what
    is known of that alarm by then."""
    told = {key: text for key, text in record.items() if key not in _OF_NOW} | {
        key: now[key] for key in _OF_NOW if key in now
    }
    kind, more, at = str(record["kind"]), int(told.get("more", 0)), float(record["at_utc_s"])
    if kind == Told.AGAIN:
        told["at_utc_s"] = at = float(now["at_utc_s"])
    when = time_of_day(at, utc_s)
    words = {str(Told.RAISED): f", came at {when}", str(Told.AGAIN): f" came {more + 1} times, last at {when}"}
    become = words.get(kind) or _become(kind, more).replace(f" {kind}", f" {kind} at {when}", 1)
    title = _title(str(record["rank"]), str(record["rig"]), become, str(told.get("act", "")), str(told.get("why", "")))
    return {**told, "title": _cut(title)}


def _title(rank: str, rig: str, become: str, act: str, why: str) -> str:
    what = why.partition(";")[0].rstrip(".")
    title = f"{rank.capitalize()} on {rig}{become}: {act}"
    return f"{title}. {what}" if what else title


def _become(kind: str, more: int) -> str:
    if kind == Told.RAISED:
        return ""
    if kind == Told.AGAIN:
        return f" keeps coming, {more + 1} times so far"
    often = "twice" if more == 1 else f"{more + 1} times"
    return f" ended, it came {often}" if more and kind == Told.ENDED else f" {kind}"


def started(at_utc_s: float, in_order: bool) -> Draft:
    """The service has started; `in_order`: the one before it had said that it stops, or there was none."""
    title = "Slipring has started" if in_order else "Slipring has started again; before that it ended without a word"
    return Draft("service_started", Rank.INFORMATION, at_utc_s, title)


def added(at_utc_s: float, since_utc_s: float) -> Draft:
    """The first receiver was set up while the service ran."""
    title = f"Slipring tells you of alarms from now on; it has been running since {moment(since_utc_s)}"
    return Draft("receiver_added", Rank.INFORMATION, at_utc_s, title)


def stopped(at_utc_s: float) -> Draft:
    """The service was told to stop; nothing is watched until it starts again."""
    return Draft("service_stopped", Rank.INFORMATION, at_utc_s, "Slipring was stopped in order; nothing is watched now")


def dropped(at_utc_s: float, count: int, first_utc_s: float, last_utc_s: float) -> Draft:
    """Messages that waited were given up, made between these moments."""
    span = f"from {moment(first_utc_s)} to {moment(last_utc_s)}"
    title = f"{count} message{'s' if count > 1 else ''} {span} not sent: no room was left, too old, or refused"
    record = {"count": count, "first_utc_s": first_utc_s, "last_utc_s": last_utc_s}
    return Draft("dropped", Rank.CAUTION, at_utc_s, title, record)


def moment(utc_s: float) -> str:
    """As a receiver reads it, whatever its own clock shows."""
    return datetime.fromtimestamp(utc_s, UTC).strftime("%Y-%m-%d %H:%M:%S UTC")


def _cut(text: str) -> str:
    return text if len(text) <= TEXT_MAX else text[: TEXT_MAX - 3] + "..."


@dataclass(frozen=True, slots=True)
class Word:
    """A draft on its way into the outbox. `to`: names of receivers, None: all. It may be held until a time."""

    draft: Draft
    to: tuple[str, ...] | None = None
    not_before_utc_s: float | None = None
