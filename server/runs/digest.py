"""A run in short: its motor, what happened, where samples are missing, its first start, its current from end to end.

Pure: it is given the entries of a run and what the pipeline made of each. Its size is bounded however long the run was.
"""

from collections import deque
from collections.abc import Mapping
from typing import Any

import numpy as np

from server.pipeline import Output, Pipeline
from server.readings import Event, Fast
from server.runs.account import Account
from server.runs.damage import DamageByKind
from server.runs.drawn import Drawn
from server.runs.ends import Ends
from server.runs.holes import Holes
from server.runs.kept import kept_frames
from server.runs.layout import Entry, Kind
from server.runs.overview import Overview, rounded
from server.stream.scaling import channel_of
from server.test_plan.evidence import Evidence

FORMAT = 7  # of the record: one of another format is made again
START_S = 1.2  # how much of the first start is kept, from power on
ROW_S = 0.01
ROWS_BEFORE = 1000  # a start is told up to seconds after it began
EVENTS_MAX = 400  # the first half and the newest; how many there were is told
TROUBLES_MAX = 20
CHANGES_MAX = 100  # of settings, calibrations, descriptions each: where there were more, a place is not jumped to
_BEGINS = "starting"  # where no power on is told, a start begins with this state,
_OFF = ("resting", "coasting")  # if it was off before: a run may begin in the middle of one, and a stall may come free
_UNKNOWN = "unknown"


class Digest:
    """Give it entries and outputs in turn; `record()` is what is kept."""

    def __init__(self) -> None:
        self._events = Ends[dict[str, Any]](EVENTS_MAX)
        self._troubles: list[str] = []
        self._reason = ""
        self._holes = Holes()
        self._hole_s = 0.0  # of the newest hole, until samples came behind it: those that are missed then lay in it
        self._samples_missing = 0
        self._missing_s = 0.0  # beside the holes
        self._rate_hz = 0.0  # of the fastest channel
        self._motor, self._type, self._source, self._serial = "", "", "", ""
        self._settings: list[tuple[float, str]] = []
        self._described: list[tuple[float, str]] = []
        self._calibrations: list[tuple[float, str]] = []
        self._overview, self._evidence, self._account = Overview(), Evidence(), Account()
        self._damage, self._drawn = DamageByKind(), Drawn()
        self._pipeline: Pipeline | None = None
        self._rows: deque[tuple[float, float]] = deque(maxlen=ROWS_BEFORE)  # board time and current
        self._on_s: float | None = None  # board time of the first power on
        self._on_utc_s = 0.0
        self._state = ""  # the newest known one
        self._start: list[float] = []
        self._done = False  # the first start is complete, or cannot be

    def trouble(self, sentence: str) -> None:
        """Something of the run cannot be read."""
        self._account.unreadable()
        if len(self._troubles) < TROUBLES_MAX:
            self._troubles.append(sentence)

    def take(self, entry: Entry, output: Output | None, pipeline: Pipeline | None) -> None:
        """One entry, what came of it, and the pipeline that it went through."""
        self._account.take(entry)
        hole = self._holes.take(entry)
        self._hole_s = self._hole_s if hole is None else hole[1] - hole[0]
        if entry.kind is Kind.MARK:
            self._events.add(
                {"kind": "mark", "text": entry.text, "detail": "", "decisive": True, "utc_s": round(entry.utc_s, 3)}
            )
        elif entry.kind is Kind.CLOSE:
            self._reason = entry.text
        elif entry.kind in (Kind.BEGIN, Kind.SETTINGS) and len(self._settings) < CHANGES_MAX:
            self._settings.append((entry.utc_s, entry.text))
        elif entry.kind is Kind.CALIBRATION and len(self._calibrations) < CHANGES_MAX:
            self._calibrations.append((entry.utc_s, entry.text))
        if output is None:
            return
        self._pipeline = pipeline
        for part in output.parts:
            self._take(part, entry.utc_s)
            self._evidence.take(part)
        if pipeline is not None and pipeline.description is not None:
            who = pipeline.description.identity
            self._motor, self._type = pipeline.motor.name, pipeline.motor.type
            self._source, self._serial = who.source, who.serial

    def record(self) -> dict[str, Any]:
        """What is kept of the run, ready for JSON."""
        return {
            "format": FORMAT,
            "motor": self._motor,
            "type": self._type,
            "source": self._source,
            "serial": self._serial,
            "reason": self._reason,
            "from_utc_s": self._holes.from_utc_s,
            "to_utc_s": self._holes.to_utc_s,
            "events_count": self._events.count,
            "events": sorted(self._events.kept, key=lambda each: float(each["utc_s"])),
            "gaps": [list(each) for each in self._holes.found],
            "missing_s": round(self._holes.seconds + self._missing_s, 3),
            "samples_missing": self._samples_missing,
            "account": self._account.record(),
            "damage": self._damage.record(),
            "drawn": self._drawn.record(),
            "start": self._start_record(),
            "overview": self._overview.record(),
            "evidence": self._evidence.record(self._pipeline),
            "settings": self._settings,
            "described": self._described,
            "calibrations": self._calibrations,
            "troubles": self._troubles,
        }

    def _take(self, part: Output, utc_s: float) -> None:
        if part.anew or part.described is not None:
            self._rows.clear()
            self._done = self._done or self._on_s is not None
            self._state = ""
        if part.described is not None:
            if len(self._described) < CHANGES_MAX:
                self._described.append((utc_s, kept_frames(part.described, b"").hex()))
            tick_hz = part.described.identity.tick_hz
            rates = (channel_of(said, tick_hz).rate_hz or 0.0 for said in part.described.channels)
            self._rate_hz = max(rates, default=0.0)
        for event in part.events:
            self._tell(event, part)
        self._damage.take(part.damage)
        self._miss(part)
        self._drawn.take(part)
        for fast in part.fast:
            self._take_rows(fast, part)

    def _miss(self, part: Output) -> None:
        """A board that went on while nothing came tells by its numbers what is missing of a hole: that counts once."""
        samples = sum(report.samples for report in part.damage)
        self._samples_missing += samples
        lost_s = samples / self._rate_hz if self._rate_hz else 0.0
        in_hole_s = min(lost_s, self._hole_s)
        self._missing_s += lost_s - in_hole_s
        self._hole_s = 0.0 if part.samples else self._hole_s - in_hole_s

    def _tell(self, event: Event, part: Output) -> None:
        utc_s = round(part.clock.utc_s(event.board_s), 3)
        told = {
            "kind": event.kind,
            "text": event.text,
            "detail": event.detail,
            "decisive": event.decisive,
            "utc_s": utc_s,
        }
        self._events.add(told)
        if event.kind == "power_on":
            self._begin(event.board_s, utc_s)

    def _begin(self, board_s: float, utc_s: float) -> None:
        """The first start: rows that came before it was told belong to it too."""
        if self._on_s is not None or self._done:
            return
        self._on_s, self._on_utc_s = board_s, utc_s
        for row_s, current_a in self._rows:
            self._add(row_s, current_a)

    def _take_rows(self, fast: Fast, part: Output) -> None:
        if not fast.board_s.size:
            return
        first_s = float(fast.board_s[0])
        self._overview.take(part.clock.utc_s(first_s) + (fast.board_s - first_s), fast.current_a)
        if self._done:
            return
        for row in zip(fast.board_s.tolist(), fast.current_a.tolist(), strict=True):
            self._rows.append(row)
            self._add(*row)
        for change in fast.changes:
            if change.state == _BEGINS and self._state in _OFF:
                self._begin(change.board_s, part.clock.utc_s(change.board_s))
            self._state = self._state if change.state == _UNKNOWN else change.state

    def _add(self, row_s: float, current_a: float) -> None:
        """A row of the first start, in its place: what did not come is NaN."""
        if self._on_s is None or self._done:
            return
        place = int(np.floor((row_s - self._on_s) / ROW_S + 1e-6))
        if place < len(self._start):
            return
        if place >= round(START_S / ROW_S):
            self._done = True
            return
        self._start += [float("nan")] * (place - len(self._start)) + [current_a]

    def _start_record(self) -> dict[str, Any] | None:
        values = np.array(self._start)
        if not values.size or bool(np.isnan(values).all()):
            return None
        return {"utc_s": self._on_utc_s, "step_s": ROW_S, "current_a": rounded(values)}


def is_record(said: dict[str, Any]) -> bool:
    """Whether it has all that `Digest.record` gives, of the same types: of one that has no checksum."""
    like = Digest().record()
    types = {key: type(value) for key, value in like.items() if value is not None}
    return like.keys() <= said.keys() and _has(said, {**types, "bytes": int}) and all(map(_is_told, said["events"]))


def _is_told(event: object) -> bool:
    return _has(event, {"kind": str, "text": str, "detail": str, "decisive": bool, "utc_s": float})


def _has(said: object, types: Mapping[str, type]) -> bool:
    return isinstance(said, dict) and all(isinstance(said.get(key), its) for key, its in types.items())
