"""The heat of a current: trip classes, the curve of first order, and what an overload is told by, window by window."""

import json
import re
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import server
from server.alarms.heat import PICK_UP, TAU_S, Heat, trips_after_s, warmed
from server.alarms.kept import Kept, UnreadableError, kept_from, kept_text
from server.alarms.notice import Rank, Told
from server.alarms.seen import Seen
from server.alarms.shown import worst_first
from server.config import TRIP_CLASSES, AlarmSettings
from server.readings import Confidence, Doubt, Reading
from tests.server.alarms.scenes import Bench, amps, doubtful_amps, no_amps, only, state

SETTINGS = Path(server.__file__).parent / "settings" / "SETTINGS.md"
TWO_HOURS_S = 7200.0
ALLOWED = {  # from cold at 7.2 times: longer than, at most; from warm at 1.5 times: at most (s)
    "5": (0.5, 5.0, 120.0),
    "10A": (2.0, 10.0, 120.0),
    "10": (4.0, 10.0, 240.0),
    "20": (6.0, 20.0, 480.0),
    "30": (9.0, 30.0, 720.0),
}


def watched(trip_class: str = "10") -> Bench:
    return Bench(only(AlarmSettings("overloaded", trip_class=trip_class)))


def draw(bench: Bench, *readings: Reading, seconds: float, plate_a: float | None = 2.0) -> None:
    bench.see(*readings, seconds=seconds, rated_a=plate_a)


def percent(bench: Bench) -> float:
    return bench.state.watching["overloaded"].heat.percent


@pytest.mark.parametrize("trip_class", TRIP_CLASSES)
def test_each_trip_class_trips_and_holds_where_a_relay_of_it_must(trip_class: str) -> None:
    """IEC 60947-4-1, trip classes and limits of operation of overload relays (from memory)."""
    tau_s, (longer_s, most_s, warm_s) = TAU_S[trip_class], ALLOWED[trip_class]
    assert longer_s < trips_after_s(0.0, 7.2, tau_s) <= most_s
    assert trips_after_s(1.0, 1.5, tau_s) <= warm_s
    assert trips_after_s(0.0, 1.05, tau_s) > TWO_HOURS_S
    assert warmed(0.0, 1.05, TWO_HOURS_S, tau_s) < PICK_UP**2
    assert trips_after_s(0.0, 1.2, tau_s) < TWO_HOURS_S
    assert trips_after_s(1.05**2, 1.2, tau_s) < TWO_HOURS_S
    start_s, cold_s, warm_s = (trips_after_s(*at, tau_s) for at in ((0.0, 7.2), (0.0, 3.0), (1.0, 1.5)))
    row = f"| {trip_class} | {tau_s:.0f} s | {start_s:.2g} s | {cold_s:.0f} s | {warm_s:.0f} s |"
    assert row in SETTINGS.read_text()


@pytest.mark.parametrize(
    ("before", "ratio", "trips_s"),
    [(0.0, 2.0, 193.4676389), (0.0, 3.0, 78.40699419), (0.0, 6.0, 18.66224703), (0.9, 3.0, 21.8205865)],
)
def test_the_curve_is_that_of_first_order_cold_and_hot(before: float, ratio: float, trips_s: float) -> None:
    """Points of t = tau ln((I^2 - Ip^2) / (I^2 - k^2)), tau 600 s, k 1.05, worked out by hand (IEC 60255-149, from
    memory), and the equation itself in small steps."""
    tau_s, k = 600.0, 1.05
    assert trips_after_s(before**2, ratio, tau_s, k) == pytest.approx(trips_s, rel=1e-7)
    load, passed_s, step_s = before**2, 0.0, 0.005
    while load < k * k:
        load += step_s * (ratio * ratio - load) / tau_s
        passed_s += step_s
    assert passed_s == pytest.approx(trips_s, abs=0.02)
    assert warmed(before**2, ratio, trips_s, tau_s) == pytest.approx(k * k, rel=1e-7)


@given(
    st.floats(0.0, 4.0),
    st.floats(0.0, 10.0),
    st.lists(st.floats(0.0, 600.0), min_size=1, max_size=20),
    st.sampled_from(TRIP_CLASSES),
)
def test_it_does_not_matter_how_long_windows_are(
    load: float, ratio: float, pieces: list[float], trip_class: str
) -> None:
    stepped = load
    for seconds in pieces:
        stepped = warmed(stepped, ratio, seconds, TAU_S[trip_class])
    assert stepped == pytest.approx(warmed(load, ratio, sum(pieces), TAU_S[trip_class]), rel=1e-9, abs=1e-9)


def test_an_overload_is_told_when_a_relay_of_its_class_would_trip_and_ends_when_it_has_cooled() -> None:
    bench = watched()
    trips_s = trips_after_s(0.0, 3.0, TAU_S["10"])  # about 46 s
    draw(bench, amps(6.0), seconds=trips_s - 0.4)
    assert bench.told == []
    draw(bench, amps(6.0), seconds=0.8)
    (notice,) = bench.notices
    assert (notice.kind, notice.rank, notice.act) == (Told.RAISED, Rank.ALARM, "Take load off, or switch off")
    assert notice.why == (
        "Its current would have tripped an overload relay of class 10, set to the plate's 2\u00a0A; "
        "a protective device must trip, Slipring only estimates and never stops a motor."
    )
    assert (notice.value, notice.limit) == ("thermal load 100\u00a0%", "above 100\u00a0%")
    draw(bench, amps(6.0), seconds=10.0)
    life = bench.life("overloaded")
    assert life is not None
    assert life.value == f"thermal load {percent(bench):.0f}\u00a0%"
    assert percent(bench) > 110.0
    while percent(bench) > 90.0:
        assert bench.told == [Told.RAISED]
        draw(bench, amps(0.0), seconds=0.2)
    assert bench.told == [Told.RAISED, Told.ENDED]


def test_starts_and_a_motor_at_its_plate_are_no_overload_and_one_line_that_has_more_is() -> None:
    bench = watched()
    for _ in range(3):
        draw(bench, amps(12.0), state("starting"), seconds=1.0)
        draw(bench, amps(2.0), state("running"), seconds=120.0)
    assert bench.told == []
    bench = watched()
    draw(bench, amps(2.0), Reading("current_rms_a", 6.0, place="L2"), seconds=50.0)
    assert bench.told == [Told.RAISED]


@pytest.mark.parametrize("reading", [doubtful_amps(9.0), no_amps(), amps(float("nan")), doubtful_amps(0.0)])
def test_a_current_that_cannot_be_trusted_neither_warms_nor_cools(reading: Reading) -> None:
    bench = watched()
    draw(bench, amps(6.0), seconds=50.0)
    before = percent(bench)
    draw(bench, reading, state("running"), seconds=300.0)
    assert percent(bench) == before
    life = bench.life("overloaded")
    assert life is not None
    assert life.unknown == (f"{reading.confidence.value}: {reading.reason}" if reading.reason else "it is no number")
    draw(bench, reading, state("resting"), seconds=90.0)
    assert bench.told == [Told.RAISED, Told.ENDED]
    unsure = Reading("run_state", "resting", Confidence.DOUBTFUL, "it may turn")
    before = percent(bench)
    draw(bench, reading, unsure, seconds=60.0)
    assert percent(bench) == before


def test_a_current_that_changed_within_each_window_warms_by_all_of_it_and_one_that_clips_does_not_cool() -> None:
    """Jogged: 300 ms of 10.6 A out of each 400 ms are as warm as their RMS (the heat of a resistance goes by i^2)."""
    jogged = Reading("current_rms_a", 10.6 * 0.75**0.5, Confidence.DOUBTFUL, "changed", doubt=Doubt.OF_ALL_THE_WINDOW)
    bench = watched()
    draw(bench, jogged, seconds=20.0)
    assert percent(bench) == pytest.approx(100.0 * warmed(0.0, 5.3 * 0.75**0.5, 20.0, TAU_S["10"]) / PICK_UP**2)
    before = percent(bench)
    clipped = Reading("current_rms_a", 2.0, Confidence.DOUBTFUL, "at least", doubt=Doubt.AT_LEAST)
    draw(bench, clipped, seconds=20.0)
    assert percent(bench) == before
    bench = watched()
    draw(bench, replace(clipped, value=6.0), seconds=50.0)
    assert bench.told == [Told.RAISED]
    before = percent(bench)
    draw(bench, amps(1.0), replace(clipped, value=0.5, place="L2"), seconds=20.0)
    assert percent(bench) == before, "the lower one of two may be more than the higher one"
    other = replace(clipped, value=60.0, doubt=Doubt.AT_LEAST | Doubt.EDGE_MAY_BE_MISSING)
    before = percent(bench)
    draw(bench, other, seconds=5.0)
    assert percent(bench) == before


def test_a_gap_leaves_the_heat_as_it_is_and_so_does_a_board_that_starts_anew() -> None:
    bench = watched()
    draw(bench, amps(6.0), seconds=40.0)
    before = percent(bench)
    for board_s in (bench.board_s + 3600.0, 0.0):
        bench.board_s = board_s
        bench.wait(60.0)
        draw(bench, amps(0.0), seconds=0.2)
        assert before - 0.1 < percent(bench) <= before
        before = percent(bench)


def starting_anew(bench: Bench, amperes: float, away_s: float, reads_s: float, first: tuple[Reading, ...] = ()) -> None:
    """The board starts anew: nothing comes for so long, then its time goes from 0 for as long as it is read."""
    bench.wait(away_s, tick_s=0.1)
    bench.board_s = 0.0
    if first:
        its = {each.id: each for each in first}
        bench._step(Seen(bench.now_s, bench.utc_s, 0.0, 0.2, its, rated_a=2.0, anew=True))
    bench.see(amps(amperes), rated_a=2.0, anew=not first)
    draw(bench, amps(amperes), seconds=reads_s - 0.2)


@pytest.mark.parametrize("first", [(), (Reading("temperature_c", 40.0),)])
def test_a_board_that_starts_anew_each_second_loses_no_time_of_an_overload(first: tuple[Reading, ...]) -> None:
    """Also where what comes first tells of no current."""
    bench, starts = watched(), 200
    draw(bench, amps(4.0), seconds=0.4)
    for _ in range(starts):
        starting_anew(bench, 4.0, 0.6, 0.4, first)
    whole = 100.0 * warmed(0.0, 2.0, 0.4 + 1.0 * starts, TAU_S["10"]) / PICK_UP**2
    assert whole > 140.0
    assert percent(bench) == pytest.approx(whole)
    assert bench.told == [Told.RAISED]


def test_what_flowed_while_a_board_started_anew_is_the_lower_of_what_was_seen_and_cools_nothing() -> None:
    tau_s, before = TAU_S["10"], warmed(0.0, 3.0, 20.0, TAU_S["10"])
    for ampere, load in ((4.0, warmed(before, 2.0, 1.0, tau_s)), (9.0, warmed(before, 3.0, 1.0, tau_s)), (0.0, before)):
        bench = watched()
        draw(bench, amps(6.0), seconds=20.0)
        starting_anew(bench, ampere, 1.0, 0.2)
        assert percent(bench) == pytest.approx(100.0 * warmed(load, ampere / 2.0, 0.2, tau_s) / PICK_UP**2)
    bench = watched()
    draw(bench, amps(6.0), seconds=20.0)
    starting_anew(bench, 6.0, 60.0, 0.2)
    assert percent(bench) == pytest.approx(100.0 * warmed(before, 3.0, 0.2, tau_s) / PICK_UP**2), "it may have rested"


def test_a_window_of_other_channels_that_ends_a_little_earlier_counts_no_time_twice() -> None:
    bench = watched()
    draw(bench, amps(6.0), seconds=10.0)
    for _ in range(50):
        bench.board_s -= 0.3
        draw(bench, Reading("current_rms_a", 6.0, place="L2"), seconds=0.2)
        bench.board_s += 0.1
        draw(bench, amps(6.0), seconds=0.2)
    assert percent(bench) == pytest.approx(100.0 * warmed(0.0, 3.0, 20.0, TAU_S["10"]) / PICK_UP**2)


def test_a_start_of_the_service_keeps_the_heat_and_a_file_of_before_is_read() -> None:
    bench = watched()
    draw(bench, amps(6.0), seconds=50.0)
    text = kept_text(Kept(bench.state))
    after = watched()
    after.state = kept_from(text).state
    assert percent(after) == percent(bench)
    draw(after, amps(0.0), seconds=0.2)
    assert percent(after) > 99.0
    assert after.told == [], "it is told already"
    draw(after, amps(0.0), seconds=90.0)
    assert after.told == [Told.ENDED]
    old = json.loads(text)
    for its in old["state"]["watching"].values():
        del its["heat"]
    assert kept_from(json.dumps(old).encode()).state.watching["overloaded"].heat == Heat()
    for wrong in ("NaN", "Infinity", "-Infinity", "1e308", "1e999", "-1.0"):
        with pytest.raises(UnreadableError):
            kept_from(re.sub(rb'"load":[0-9.]+', b'"load":' + wrong.encode(), text))
    assert b'"so_s":' in text
    with pytest.raises(UnreadableError, match="NaN is no number"):
        kept_from(re.sub(rb'"so_s":[0-9.]+', b'"so_s":NaN', text))
    with pytest.raises(UnreadableError, match=r"9{40} is no number"):
        kept_from(re.sub(rb'"so_s":[0-9.]+', b'"so_s":' + b"9" * 400, text))


def test_without_the_plate_s_current_nothing_is_told_and_with_another_one_it_is_recast() -> None:
    bench = watched()
    draw(bench, amps(60.0), seconds=60.0, plate_a=None)
    assert (bench.told, percent(bench)) == ([], 0.0)
    draw(bench, amps(6.0), seconds=50.0)
    draw(bench, amps(6.0), seconds=0.2, plate_a=None)
    life = bench.life("overloaded")
    assert life is not None
    assert life.unknown == "the current on the plate of the motor is not known"
    before = percent(bench)
    draw(bench, amps(6.0), seconds=0.2, plate_a=2.5)  # the same heat is a smaller part of what the larger one bears
    assert percent(bench) == pytest.approx(before / 1.25**2, abs=1.0)
    draw(bench, amps(6.0), seconds=0.2, plate_a=20.0)
    assert percent(bench) == pytest.approx(before / 10.0**2, abs=0.1)
    assert bench.told == [Told.RAISED, Told.ENDED]
    draw(bench, amps(6.0), seconds=0.2, plate_a=0.001)
    assert kept_from(kept_text(Kept(bench.state))), "a plate that is mistyped makes no heat that no file may hold"


def test_beside_a_stall_it_stands_behind_although_it_came_later_and_so_does_a_failed_test() -> None:
    def standing(name: str, raised_utc_s: float) -> dict[str, object]:
        keys = dict.fromkeys(("acknowledged", "ended_utc_s", "held_until_utc_s", "shelved_until_utc_s"))
        return {"name": name, "rank": "alarm", "raised_utc_s": raised_utc_s, **keys}

    both = standing("overloaded", 9.0), standing("stalled", 1.0)
    assert [each["name"] for each in worst_first(both)] == ["stalled", "overloaded"]
    both = standing("test_failed", 9.0), standing("stalled", 1.0)
    assert [each["name"] for each in worst_first(both)] == ["stalled", "test_failed"]
