"""Stretches of a run of which its log does not know all that happened: from the last instant that was synced before to
the first one behind. Pure. They stand in the log's `meta` as JSON, a pair of UTC seconds each; null: it has not ended.
"""

import json
from collections.abc import Sequence
from math import inf, isfinite
from typing import TypeAlias

SPANS_MAX = 1000  # more than services are ended in a run; beyond that the last one goes on over what lies between
Spans: TypeAlias = list[tuple[float, float]]  # UTC seconds, in turn; the last one may end at inf
ALL: Spans = [(0.0, inf)]
NO_TIME = "times that no clock tells"  # why a log lacks what the run will not give either
NOT_YET = "not all is in the log yet"


def begun(spans: Sequence[tuple[float, float]], since_utc_s: float) -> Spans:
    """With one that has not ended: nothing is known from there on."""
    *before, last = spans or [(inf, -inf)]
    if last[1] >= since_utc_s or len(spans) >= SPANS_MAX:
        return [*before, (min(last[0], since_utc_s), inf)]
    return [*spans, (since_utc_s, inf)]


def ended(spans: Sequence[tuple[float, float]], at_utc_s: float) -> Spans:
    """From there on all is known again."""
    if not spans or spans[-1][1] < inf:
        return list(spans)
    *before, (since, _) = spans
    return [*before, (min(since, at_utc_s), max(since, at_utc_s))]


def text_of(spans: Sequence[tuple[float, float]]) -> str:
    return json.dumps([(since, until if until < inf else None) for since, until in spans])


def spans_in(why: object, text: object) -> Spans:
    """Those of a log. `why` it is incomplete, empty: it is not; one that does not say which they are knows nothing."""
    if not why:
        return []
    try:
        spans = [(float(since), inf if until is None else float(until)) for since, until in json.loads(str(text))]
    except (ValueError, TypeError, OverflowError, RecursionError):
        return ALL
    sound = spans and len(spans) <= SPANS_MAX and all(isfinite(since) and since <= until for since, until in spans)
    return spans if sound else ALL


def lacking_words(why: object, spans: Sequence[tuple[float, float]], from_utc_s: float, to_utc_s: float) -> str:
    """What a log lacks of a stretch, a sentence; empty: nothing. The run has it, and the log is made again of that."""
    if not any(since < to_utc_s and until > from_utc_s for since, until in spans):
        return ""
    if why == NO_TIME:
        return NO_TIME
    return f"{NOT_YET} ({why}): what was recorded then is read in once the run has closed, where it was not thinned"
