"""The list of rigs that stands in every picture: what each does, how bad it is, and the alarms of all. Pure."""

from collections.abc import Iterable, Mapping, Sequence
from typing import TypeAlias

from server.alarms.notice import Rank
from server.alarms.shown import SHOWN_MAX, is_so, worst_first
from server.live.records import ConnectionState, RecordingState
from server.live.view import View

CAUTION, ALARM = 1, 2
Alarms: TypeAlias = Mapping[str, Sequence[Mapping[str, object]]]  # that are not over, by rig; as SOCKET.md has them
NONE: Alarms = {}
_ALIVE = (ConnectionState.LIVE, ConnectionState.STALE)
_TAGS = {
    ConnectionState.REFUSED: "board refused",
    ConnectionState.SETTINGS_REFUSED: "settings refused",
    ConnectionState.ENDED: "demo motor ended",
    ConnectionState.DISCONNECTED: "disconnected",
    ConnectionState.TOO_OLD: "no samples",
    ConnectionState.STALE: "stale",
}


def rank_and_tag(view: View, now_utc_s: float, alarms: Alarms = NONE) -> tuple[int, str]:
    """0 nothing, 1 caution, 2 alarm, and a word for it."""
    if view.playing is not None:  # whatever was the matter is over
        return 0, ""
    standing = worst_first(alarms.get(view.name, ()))
    worst = next(iter(standing), None)
    if (now := next((its for its in standing if its["rank"] == Rank.ALARM and is_so(its)), None)) is not None:
        return ALARM, _word(now)
    connection = view.connected(now_utc_s)
    if connection.state is ConnectionState.REFUSED and connection.retry_s is not None:
        return CAUTION, "PC too slow"  # the board was taken and is asked for again
    if connection.state is ConnectionState.ENDED and view.health.identity is None:
        return CAUTION, "demo motor not started"  # as the far line calls it; why stands below that
    if connection.state in _TAGS:
        return CAUTION, _TAGS[connection.state]
    if view.recorded().state is RecordingState.FAILED:
        return CAUTION, "not recording"
    return (0, "") if worst is None else (CAUTION, _word(worst))


def _word(alarm: Mapping[str, object]) -> str:
    held = "" if is_so(alarm) else ", not so now"
    return f"{str(alarm['name']).replace('_', ' ')}{held if alarm['ended_utc_s'] is None else ', ended'}"


def alarms_record(alarms: Alarms, troubles: Mapping[str, str]) -> dict[str, object]:
    """The `alarms` of a picture: those of all rigs, the worst first."""
    all_of_them = worst_first(alarm for its in alarms.values() for alarm in its)
    return {
        "standing": all_of_them[:SHOWN_MAX],
        "more": max(0, len(all_of_them) - SHOWN_MAX),
        "trouble": " ".join(f"{rig}: {trouble}" for rig, trouble in troubles.items()),
    }


def bench_record(views: Iterable[View], now_utc_s: float, alarms: Alarms = NONE) -> list[dict[str, object]]:
    """The `rigs` of a picture, worst first, runs that are played last.

    What a motor did when it was last heard of is not what it does now.
    """
    ranked = [(view, view.connected(now_utc_s).state, *rank_and_tag(view, now_utc_s, alarms)) for view in views]
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
