"""A night of a bilge pump, made at once: its log written by the service's own scribe, not recorded in real time.

Twelve hours: its brushes wear from the seventh on, a leaf at 5 h draws 5.8 A for 1.2 s, the cable is out for 7 min.
"""

import json
from collections.abc import Iterator
from dataclasses import dataclass
from math import sin
from pathlib import Path

import numpy as np

from server.alarms.kept import Kept, kept_text
from server.alarms.life import State
from server.alarms.notice import Notice, Rank, Told
from server.config import MotorSettings, RigSettings
from server.readings import Event, Fast, Instant, Reading, StateChange
from server.runs.layout import FORMAT, Entry, Kind, record, run_name
from server.runs.log.scribe import Scribe
from server.runs.log.store import LOG, Store
from server.runs.log.taken import Said, Taken
from server.runs.marks import CABLE_BACK, CABLE_OUT
from server.settings.text import rig_text
from server.stream.clock import Clock
from server.verdict import Certainty, NextTest, Sign, Speaks, Verdict
from tests.server.tiny_board import TinyBoard

HOURS = 12.0
LEAF_S, LEAF_A = 5 * 3600.0, 5.8
OUT_S, BACK_S = 6 * 3600.0, 6 * 3600.0 + 420.0
MOTOR = MotorSettings(name="bilge pump", type="permanent_magnet_dc")
WEAR_S = 8.1 * 3600.0
OTHERS = tuple(f"winding_temperature_c.{k}" for k in range(40))
RIG = {
    "name": "heron-2",
    "port": "/dev/ttyACM9",
    "motor": {"type": MOTOR.type, "name": MOTOR.name},
    "limits": {"current_mean_a": {"high": 5.0}, "commutator_noise_a": {"high": 0.3}},
}  # as a script makes it
WEAR = Verdict(
    "commutator_wear",
    "Why is there more noise on the current?",
    "The commutator is wearing.",
    Certainty.PLAIN,
    (
        Sign(Speaks.FOR, "Noise 0.14 A to 0.34 A, most of it in four hours"),
        Sign(Speaks.FOR, "Speed fell 2.2 % at the same voltage"),
        Sign(Speaks.AGAINST, "Supply: 12.0 V all night"),
    ),
    next_test=NextTest("Look at the brushes: measure their length.", "Stop, let it cool."),
)


@dataclass(frozen=True, slots=True)
class MadeNight:
    """Its run, and when it began and ended."""

    run: str
    from_utc_s: float
    to_utc_s: float


def made_night(data: Path, rig: str, to_utc_s: float, step_s: float = 20.0, hours: float = HOURS) -> MadeNight:
    """Under the data folder of a service that does not run yet; an instant every `step_s`."""
    from_utc_s = to_utc_s - 3600.0 * hours
    name = run_name(from_utc_s, rig)
    run = data / "runs" / name
    run.mkdir(parents=True)
    entries = _entries(rig, from_utc_s, to_utc_s)
    head = json.dumps({"format": FORMAT, "run": name, "rig": rig, "segment": 1}).encode()
    lines = [record(0, Entry(Kind.SEGMENT, 0.0, head)), *(record(k, each) for k, each in enumerate(entries))]
    (run / "0001.run").write_bytes(b"".join(lines))
    store = Store(run / LOG)
    scribe = Scribe(store)
    for k, taken in enumerate(_taken(from_utc_s, entries, hours, step_s)):
        scribe.take(taken)
        if k % 500 == 0:
            scribe.write()
    scribe.end()
    store.close()
    _keep_alarms(data, rig, name, from_utc_s)
    return MadeNight(name, from_utc_s, to_utc_s)


def _entries(rig: str, from_utc_s: float, to_utc_s: float) -> list[Entry]:
    """What stands in the segment: a second of the wire, so that there are samples to account for, and the marks."""
    opening = json.dumps({"serial": TinyBoard().serial, "reason": "the board was described"}).encode()
    return [
        Entry(Kind.OPEN, from_utc_s, opening),
        Entry(Kind.BEGIN, from_utc_s, rig_text(RigSettings(rig, motor=MOTOR)).encode()),
        Entry(Kind.CHUNK, from_utc_s + 1.0, TinyBoard().wire(((1.0, 12.0, 0.5, 1400.0),))),
        Entry(Kind.MARK, from_utc_s + OUT_S, CABLE_OUT.encode()),
        Entry(Kind.MARK, from_utc_s + BACK_S - 1.0, CABLE_BACK.encode()),
        Entry(Kind.CLOSE, to_utc_s, b"ended by a person"),
    ]


def _taken(from_utc_s: float, entries: list[Entry], hours: float, step_s: float) -> Iterator[Taken]:
    clock, draw = Clock(1e6, low_s=from_utc_s, high_s=from_utc_s), np.random.default_rng(7)
    told = [entry for entry in entries if entry.kind is not Kind.CHUNK]
    for k in range(round(3600.0 * hours / step_s)):
        at_s = step_s * k
        while told[0].utc_s <= from_utc_s + at_s:
            yield Taken(told.pop(0), ())
        if OUT_S <= at_s < BACK_S:
            continue
        instant = Instant(k, k + 1, at_s, step_s, tuple(_readings(at_s, hours, draw)))
        changes = (StateChange(0.0, 0.0, "running"),) if k == 0 else ()
        events = (Event("running", 0.0, "Ran steadily 0.4 s after the start", decisive=True),) if k == 0 else ()
        verdicts = (WEAR,) if at_s <= WEAR_S < at_s + step_s else None
        yield Taken(
            None,
            (Said((instant,), (_rows(at_s, step_s, changes),), events, verdicts, clock),),
            "permanent_magnet_dc",
        )
    for entry in told:
        yield Taken(entry, ())


def _wear(at_s: float, hours: float) -> float:
    """From 0 to 1 over the night, most of it in the middle of its second half."""
    return float(np.interp(at_s / 3600.0 / hours, (0.0, 0.6, 0.8, 1.0), (0.0, 0.3, 0.8, 1.0)))


def _readings(at_s: float, hours: float, draw: np.random.Generator) -> Iterator[Reading]:
    wear, noise = _wear(at_s, hours), float(draw.normal(0.0, 1.0))
    current_a, speed_rpm = 4.085 - 0.16 * wear + 0.012 * noise, 3571.0 - 79.0 * wear - 2.0 * noise
    voltage_v = 12.0 + 0.02 * sin(at_s / 5400.0) + 0.002 * noise
    values = {
        "speed_rpm": speed_rpm,
        "current_mean_a": current_a,
        "voltage_mean_v": voltage_v,
        "commutator_noise_a": 0.14 + 0.2 * wear + 0.004 * noise,
        "active_power_w": voltage_v * current_a,
        "charge_ah": current_a * at_s / 3600.0,
        "energy_wh": voltage_v * current_a * at_s / 3600.0,
    }
    yield Reading("run_state", "running")
    yield from (Reading(key, value) for key, value in values.items())
    yield from (Reading(key, 60.0 + 8.0 * wear + k + noise) for k, key in enumerate(OTHERS))


def _rows(at_s: float, step_s: float, changes: tuple[StateChange, ...]) -> Fast:
    """Rows of 10 ms of one window: brushes ripple; the leaf is there for one step only."""
    ripple = np.sin(np.arange(20.0) * 1.7)
    leaf = LEAF_S <= at_s < LEAF_S + step_s
    current_a = 4.0 + 0.2 * ripple + np.where(leaf & (np.arange(20) == 7), LEAF_A - 4.0 - 0.2 * ripple, 0.0)
    speed_rpm = 3535.0 + 14.0 * ripple - (380.0 if leaf else 0.0)
    return Fast(at_s + 0.01 * np.arange(-19.0, 1.0), 12.0 + 0.05 * ripple, current_a, speed_rpm, changes)


def _keep_alarms(data: Path, rig: str, run: str, from_utc_s: float) -> None:
    """The leaf was an alarm, acknowledged in the morning; the noise a caution that ended with the run."""
    leaf = Notice(
        1,
        f"{rig}-1",
        rig,
        Told.RAISED,
        Rank.ALARM,
        from_utc_s + LEAF_S,
        "Switch off",
        "Current above 5.0 A.",
        "current_mean_a",
        "5.8 A",
        "5.0 A",
        run=run,
    )
    noise = Notice(
        3,
        f"{rig}-2",
        rig,
        Told.RAISED,
        Rank.CAUTION,
        from_utc_s + WEAR_S,
        "Look at the brushes",
        "Commutator noise above 0.30 A.",
        "commutator_noise_a",
        "0.30 A",
        "0.30 A",
        run=run,
    )
    told = (
        leaf,
        Notice(2, leaf.id, rig, Told.ENDED, leaf.rank, leaf.at_utc_s + 1.2, leaf.act, leaf.why, run=run),
        noise,
        Notice(
            4,
            leaf.id,
            rig,
            Told.ACKNOWLEDGED,
            leaf.rank,
            from_utc_s + 10.2 * 3600,
            leaf.act,
            leaf.why,
            note="found a leaf",
            run=run,
        ),
    )
    (data / "alarms").mkdir(parents=True, exist_ok=True)
    (data / "alarms" / f"{rig}.json").write_bytes(kept_text(Kept(State(5), told)))
