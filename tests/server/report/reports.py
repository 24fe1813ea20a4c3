"""Reports to lay out: one with all that a night may bring, hostile words among it, and none of it from a run."""

from dataclasses import replace

import numpy as np

from firmware_protocol import Role
from server.alarms.notice import Notice, Rank, Told
from server.config import MotorSettings, Plate
from server.report.report import (
    Board,
    Damage,
    Extra,
    Happened,
    Report,
    Spell,
    Statistic,
    Trend,
)
from server.report.states import spent_of
from server.samples import Channel
from server.verdict import Certainty, NextTest, Sign, Speaks, Verdict

BEGIN_UTC_S = 1_792_873_200.0  # 24 October 2026, 20:20 UTC: in that night clocks of central Europe go back
HOUR_S = 3600.0
END_UTC_S = BEGIN_UTC_S + 10.4 * HOUR_S
HOSTILE = '<script>alert(1)</script> & "quoted" \x1b[31m\u202egnp.exe {{7*7}} **bold** 漢字 φ Ω μ ± −'


def noise(n: int, seed: int) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    return np.random.default_rng(seed).normal(0.0, 1.0, n)


def trend(label: str, unit: str, kind: str, level: float, spread: float, seed: int) -> Trend:
    """A night in columns of a minute, three in the middle without anything."""
    n = 624
    mean = level + 0.1 * spread * noise(n, seed) + np.linspace(0.0, spread, n)
    low, high = mean - 0.3 * spread, mean + 0.3 * spread
    high[300] += 3.0 * spread
    for each in (mean, low, high):
        each[330:337] = np.nan
    return Trend(label, unit, kind, BEGIN_UTC_S, 60.0, mean, low, high)


WEAR = Verdict(
    key="wear",
    question="Why does it draw less each hour?",
    answer="The commutator is wearing",
    certainty=Certainty.PLAIN,
    signs=(
        Sign(Speaks.FOR, "Noise 0.14 A to 0.34 A, most of it from 04:00 to 06:00"),
        Sign(Speaks.AGAINST, "Supply: 12.0 V ± 0.1 V all night"),
        Sign(Speaks.MISSING, f"Brush length, {HOSTILE}"),
    ),
    open=("which of the two brushes",),
    next_test=NextTest("Stop, let it cool, measure brush length.", "Supply off and locked, rotor standing still."),
)


def notice(number: int, kind: Told, hours: float, note: str = "") -> Notice:
    return Notice(
        *(number, "a-1", "heron-2", kind, Rank.ALARM, BEGIN_UTC_S + hours * HOUR_S),
        act="Switch off",
        why="current above 5.0 A for 1.2 s",
        reading="current_mean_a",
        value="5.8 A",
        limit="5.0 A",
        note=note,
    )


_SPELLS = (
    Spell("resting", BEGIN_UTC_S, BEGIN_UTC_S + 0.5 * HOUR_S),
    Spell("starting", BEGIN_UTC_S + 0.5 * HOUR_S, BEGIN_UTC_S + 0.5 * HOUR_S + 1.0),
    Spell("running", BEGIN_UTC_S + 0.5 * HOUR_S + 1.0, BEGIN_UTC_S + 5.5 * HOUR_S),
    Spell("not recorded", BEGIN_UTC_S + 5.5 * HOUR_S, BEGIN_UTC_S + 5.6 * HOUR_S),
    Spell("running", BEGIN_UTC_S + 5.6 * HOUR_S, BEGIN_UTC_S + 9.0 * HOUR_S),
    Spell("stalled", BEGIN_UTC_S + 9.0 * HOUR_S, BEGIN_UTC_S + 9.2 * HOUR_S),
    Spell("running", BEGIN_UTC_S + 9.2 * HOUR_S, END_UTC_S),
)
NIGHT = Report(
    run="20261024-2020-heron-2",
    rig="heron-2",
    note=f"found a leaf {HOSTILE}",
    software="Slipring 0.1.0",
    made_utc_s=END_UTC_S + 600.0,
    from_utc_s=BEGIN_UTC_S,
    to_utc_s=END_UTC_S,
    closed="ended by a person",
    motor=MotorSettings("bilge pump", "permanent_magnet_dc", Plate(voltage_v=12.0, current_a=4.2)),
    type_label="permanent-magnet DC",
    far_line=("speed_rpm", "current_mean_a", "voltage_mean_v"),
    board=Board("HB-0002", f"model {HOSTILE}", "1.2", "demo", "1.0"),
    channels=(Channel(0, Role.VOLTAGE, HOSTILE, "supply", "V", -30.0, 30.0, 0, 20_000.0),),
    calibrations=("Board HB-0002: gain of current 1 of 3 November 2026, against bench meter",),
    settings="rig.name = heron-2\nmotor.name = bilge pump",
    spells=_SPELLS,
    spent=spent_of(_SPELLS),
    statistics=(
        Statistic(
            "speed_rpm", 3541.2, 1.3, 3158.0, BEGIN_UTC_S + 4 * HOUR_S, 3594.0, BEGIN_UTC_S + HOUR_S, 150_000, 12, 3
        ),
        Statistic("current_mean_a", 3.951, 0.021, 3.6, BEGIN_UTC_S, 5.8, BEGIN_UTC_S + 4 * HOUR_S, 150_000, 0, 0),
        Statistic("voltage_mean_v", -12.04, None, -12.1, BEGIN_UTC_S, 11.6, BEGIN_UTC_S, 150_000, 0, 0),
    ),
    trends=(
        trend("current", "A", "current", 4.0, 0.2, 1),
        trend("speed", "r/min", "speed", 3570.0, -40.0, 2),
        trend("voltage", "V", "voltage", 12.0, 0.1, 3),
        trend("temperature", "°C", "other", 31.0, 6.0, 4),
    ),
    gaps=((BEGIN_UTC_S + 5.5 * HOUR_S, BEGIN_UTC_S + 5.6 * HOUR_S),),
    events=(
        Happened(BEGIN_UTC_S + 0.5 * HOUR_S, "power_on", "Power came on", "12.0 V", True),
        Happened(BEGIN_UTC_S + 0.5 * HOUR_S + 1.0, "running", "Up to speed after 0.92 s", "", True),
        Happened(BEGIN_UTC_S + 3.2 * HOUR_S, "load_step", "Current rose from 3.9 A to 5.8 A", HOSTILE, False),
        Happened(BEGIN_UTC_S + 4.2 * HOUR_S, "load_step", "Current fell from 5.8 A to 3.9 A", "", False),
        Happened(BEGIN_UTC_S + 9.0 * HOUR_S, "stalled", "Stalled", "5.8 A", True),
    ),
    events_count=7,
    counts={"power_on": 1, "running": 1, "load_step": 4, "stalled": 1},
    verdicts=(WEAR,),
    damage=(Damage("checksum", 12, 12, 384, f"A frame was damaged {HOSTILE}"),),
    account=(
        {
            "what": "samples",
            "number": 0,
            "channels": ["U supply", "I line"],
            "promised": 748_800_000,
            "stored": 748_799_616,
            "missing": {"lost on the wire": 384},
            "again": 0,
            "starts_anew": 1,
            "exact": True,
        },
    ),
    energy_j=1_771_200.0,
    troubles=("0002.run: 31 bytes from byte 4096 on hold no record",),
    alarms=(notice(1, Told.RAISED, 3.2), notice(2, Told.ENDED, 3.3), notice(3, Told.ACKNOWLEDGED, 9.9, "found a leaf")),
    extras=(
        Extra(
            *("Test plan", "2 000 starts wanted, 1 204 counted so far.", (("what", "count"), ("starts", "1 204"))),
            first="The test of bilge pump, HB-7, has failed: it stalled.",
        ),
    ),
)
BARE = replace(
    NIGHT,
    note="",
    motor=MotorSettings(),
    type_label="",
    far_line=(),
    board=None,
    channels=(),
    calibrations=(),
    settings="",
    spells=(),
    spent={},
    statistics=(),
    trends=(),
    gaps=(),
    events=(),
    events_count=0,
    counts={},
    verdicts=(),
    damage=(),
    account=(),
    energy_j=None,
    troubles=(),
    alarms=None,
    extras=(),
)
