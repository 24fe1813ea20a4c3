"""The list of rigs that stands in every picture: what each does and how bad it is. Pure."""

from collections.abc import Iterable

from server.live.records import ConnectionState, RecordingState
from server.live.view import View

CAUTION = 1
_TAGS = {
    ConnectionState.REFUSED: "refused",
    ConnectionState.DISCONNECTED: "disconnected",
    ConnectionState.TOO_OLD: "no samples",
    ConnectionState.STALE: "stale",
}


def rank_and_tag(view: View, now_utc_s: float) -> tuple[int, str]:
    """0 nothing, 1 caution, and a word for it. Alarms (2) do not exist yet."""
    connection = view.connected(now_utc_s).state
    if connection in _TAGS:
        return CAUTION, _TAGS[connection]
    if view.recording.state is RecordingState.FAILED:
        return CAUTION, "not recording"
    if view.cycle.state == "stalled":
        return CAUTION, "stalled"
    return 0, ""


def bench_record(views: Iterable[View], now_utc_s: float) -> list[dict[str, object]]:
    """The `rigs` of a picture, worst first."""
    ranked = [(view, *rank_and_tag(view, now_utc_s)) for view in views]
    return [
        {
            "name": view.name,
            "motor": view.motor.name,
            "state": view.cycle.state or "unknown",
            "connection": view.connected(now_utc_s).state.value,
            "rank": rank,
            "tag": tag,
        }
        for view, rank, tag in sorted(ranked, key=lambda each: -each[1])
    ]
