"""Recorded runs, and runs that are played, as the API tells them."""

import asyncio
from pathlib import Path
from typing import Any

from server.live.records import Connection, ConnectionState
from server.playing import Play
from server.recorded import Recorded
from server.rigs import Rigs
from server.runs.account_so_far import Counted
from server.runs.happened import happened
from server.runs.log.reading import LogError
from server.runs.log.tables import TableReader
from server.runs.shelf import Shelved
from server.runs.thinned_run import is_thinned


def is_recorded(rigs: Rigs, shelved: Shelved) -> bool:
    """Whether it is recorded now."""
    rig = rigs.get(shelved.summary.rig)
    return shelved.summary.closed_utc_s is None and rig is not None and rig.view.recorded().run == shelved.summary.name


def live_events(rigs: Rigs, shelved: Shelved) -> list[dict[str, Any]]:
    """What happened in a run that is recorded now, the oldest first."""
    rig = rigs.get(shelved.summary.rig)
    if rig is None or not is_recorded(rigs, shelved):
        return []
    return [each for each in reversed(rig.view.events) if each["utc_s"] >= shelved.summary.opened_utc_s]


def counted_of(rigs: Rigs, shelved: Shelved, run: Path) -> Counted:
    """The account so far of a run that is recorded now. One that is thinned meanwhile has none before it has closed."""
    rig = rigs.get(shelved.summary.rig)
    if rig is None or rig.recording is None or not is_recorded(rigs, shelved) or is_thinned(run):
        return Counted([])
    return rig.recording.counted()


def motor_of(rigs: Rigs, shelved: Shelved) -> str:
    """The name of its motor, as it is now or was when it was summed up."""
    rig = rigs.get(shelved.summary.rig) if is_recorded(rigs, shelved) else None
    return str((shelved.digest or {}).get("motor", "")) if rig is None else rig.view.motor.name


async def run_record(rigs: Rigs, recorded: Recorded, shelved: Shelved) -> dict[str, Any]:
    """One run as the list tells it. Of one that is recorded, only the newest events are in memory: its log counts."""
    summary, digest, recording = shelved.summary, shelved.digest or {}, is_recorded(rigs, shelved)
    rig = rigs.get(summary.rig) if recording else None
    now_utc_s = None if rig is None else rig.view.time.of(rigs.utc_s())  # a demo motor's own, if it is faster
    end_utc_s = summary.closed_utc_s or now_utc_s or digest.get("to_utc_s")
    events = digest.get("events") or live_events(rigs, shelved)
    of_log = await asyncio.to_thread(_counted_by_log, recorded.shelf.folder / summary.name) if recording else {}
    identity = rig.view.health.identity if rig is not None else None
    return {
        "name": summary.name,
        "rig": summary.rig,
        "serial": summary.serial,
        "opened_utc_s": summary.opened_utc_s,
        "closed_utc_s": summary.closed_utc_s,
        "reason": summary.reason,
        "recording": recording,
        "silent_since_utc_s": None
        if rig is None
        else _silent_since(rig.view.connected(rigs.utc_s()), rig.view.sample_utc_s),
        "length_s": None if end_utc_s is None else max(0.0, end_utc_s - summary.opened_utc_s),
        "bytes": digest.get("bytes"),
        "motor": motor_of(rigs, shelved),
        "type": rig.view.motor.type if rig is not None else digest.get("type", ""),
        "source": identity.source if identity is not None else digest.get("source", ""),
        "happened": happened(events, digest.get("missing_s", 0.0), of_log or shelved.counts, shelved.raised),
        "kinds": sorted({*shelved.kinds, *(str(each["kind"]) for each in events)}),
        "events_count": digest.get("events_count", max(len(events), sum(of_log.values()))),
        "missing_s": digest.get("missing_s", 0.0),
        "note": shelved.note,
        "tags": list(shelved.tags),
        "start": digest.get("start"),
        "summed_up": shelved.digest is not None,
        "summing_up_share": recorded.summing_up.shares.get(summary.name),
        "trouble": shelved.trouble or recorded.summing_up.failed.get(summary.name, ""),
    }


def _silent_since(connection: Connection, sample_utc_s: float | None) -> float | None:
    if connection.state in (ConnectionState.DISCONNECTED, ConnectionState.ENDED):
        return connection.since_utc_s
    return sample_utc_s if connection.state is ConnectionState.TOO_OLD else None


def _counted_by_log(run: Path) -> dict[str, int]:
    """It is some seconds behind; one that cannot be read counts nothing."""
    try:
        with TableReader(run) as log:
            return log.counts()
    except LogError:
        return {}


def play_record(play: Play) -> dict[str, Any]:
    """A play as the API tells it."""
    its = play.playing
    return {
        "rig": play.name,
        "run": its.run,
        "state": its.state,
        "pace": its.pace,
        "at_utc_s": play.position_utc_s,
        "from_utc_s": its.from_utc_s,
        "to_utc_s": its.to_utc_s,
        "trouble": its.trouble,
        "calibration": its.calibration,
        "calibrated": its.calibrated,
        "reached": its.reached,
        "sought_utc_s": its.sought_utc_s,
    }
