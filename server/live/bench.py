"""The list of rigs that stands in every picture: what each does and how bad it is. Pure."""

from collections.abc import Iterable

from server.live.records import ConnectionState, RecordingState
from server.live.view import View

CAUTION = 1
_ALIVE = (ConnectionState.LIVE, ConnectionState.STALE)
_TAGS = {
    ConnectionState.REFUSED: "refused",
    ConnectionState.SETTINGS_REFUSED: "settings refused",
    ConnectionState.ENDED: "demo motor ended",
    ConnectionState.DISCONNECTED: "disconnected",
    ConnectionState.TOO_OLD: "no samples",
    ConnectionState.STALE: "stale",
}


def rank_and_tag(view: View, now_utc_s: float) -> tuple[int, str]:
    """0 nothing, 1 caution, and a word for it. Alarms (2) do not exist yet."""
    if view.playing is not None:  # whatever was the matter is over
        return 0, ""
    connection = view.connected(now_utc_s).state
    if connection in _TAGS:
        return CAUTION, _TAGS[connection]
    if view.recorded().state is RecordingState.FAILED:
        return CAUTION, "not recording"
    if view.cycle.state == "stalled":
        return CAUTION, "stalled"
    return 0, ""


def bench_record(views: Iterable[View], now_utc_s: float) -> list[dict[str, object]]:
    """The `rigs` of a picture, worst first, runs that are played last.

    What a motor did when it was last heard of is not what it does now.
    """
    ranked = [(view, view.connected(now_utc_s).state, *rank_and_tag(view, now_utc_s)) for view in views]
    return [
        {
            "name": view.name,
            "motor": view.motor.name,
            "demo_motor": view.demo_motor,
            "demo_story": view.demo_story,
            "demo_pace": view.time.pace,
            "state": (connection in _ALIVE and view.cycle.state) or "unknown",
            "connection": connection.value,
            "rank": rank,
            "tag": tag,
            "playing": view.playing.run if view.playing else "",
        }
        for view, connection, rank, tag in sorted(ranked, key=lambda each: (each[0].playing is not None, -each[2]))
    ]


def shown_unasked(views: Iterable[View], now_utc_s: float) -> View | None:
    """The rig for somebody who names none: the first that lives or is a demo motor about to, else the first.

    A run that is played is shown to those only who ask for it.
    """
    there = [view for view in views if view.playing is None]
    return next((view for view in there if is_alive(view, now_utc_s) or _starts(view)), there[0] if there else None)


def is_alive(view: View, now_utc_s: float) -> bool:
    """Whether samples come."""
    return view.connected(now_utc_s).state in _ALIVE


def _starts(view: View) -> bool:
    return bool(view.demo_motor) and view.connection.state is ConnectionState.CONNECTING
