"""A report in words: a Report in, a Document out, of which HTML and PDF are made alike. Pure."""

from collections.abc import Iterator, Sequence
from dataclasses import fields
from datetime import tzinfo

from server.config import MotorSettings
from server.quantities import QUANTITIES
from server.report.answer import answer_of
from server.report.blocks import (
    Answer,
    Caution,
    Document,
    Drawing,
    Facts,
    Figure,
    Figures,
    Heading,
    Ink,
    Lines,
    Part,
    Sign,
    Signs,
    Table,
    Text,
)
from server.report.evidence import alarm_parts, loss_parts, time_share, verdict_parts, worst_alarms
from server.report.overload import overload_of
from server.report.report import DUTY, TEST_PLAN, Report, Statistic
from server.report.stories import stories_of
from server.report.trends import trends_drawing
from server.report.words import FAST, Times, length, measured, number
from server.rounding import decimals_of

EVENTS_SHOWN = 120
_INKS: dict[str, Ink] = {"V": "voltage", "A": "current", "r/min": "speed"}
PROTECTS = "Slipring watches, it does not protect."
_CATALOGUE = {each.key: each for each in QUANTITIES}
_PLATE = {
    "voltage_v": "V",
    "frequency_hz": "Hz",
    "current_a": "A",
    "speed_rpm": "r/min",
    "pole_pairs": "pole pairs",
    "power_w": "W",
    "run_capacitor_uf": "µF",
}


def document_of(report: Report, zone: tzinfo | None = None) -> Document:
    """`zone`: whose local time is shown, None: that of this PC."""
    times = Times(report.from_utc_s, report.to_utc_s, zone)
    name = report.motor.name or report.rig
    parts = [
        *_first_page(report, times, name),
        *_what_ran(report, times),
        *_spent(report),
        *_measured(report, times),
        *_events(report, times),
        *alarm_parts(report.alarms, times, report.from_utc_s, report.standing),
        *verdict_parts(report.verdicts),
        *_extras(report),
        *loss_parts(report),
        *_channels(report),
        *_software(report, times),
    ]
    return Document(f"{name}: run {report.run}", f"{name}, run {report.run}. {PROTECTS}", tuple(parts))


def _first_page(report: Report, times: Times, name: str) -> Iterator[Part]:
    overload = overload_of(report.trends, report.motor.plate.current_a)
    over = {each for each, is_so in report.standing.items() if not is_so}
    found = answer_of(report, times, overload, report.gone, report.standing.keys(), over)
    named = [name] if name != report.rig else []
    named += [f"rig {report.rig}", f"run {report.run}", times.whole(report.from_utc_s), length(report.length_s)]
    yield Answer(found.text, ", ".join(named))
    yield from (Text(each.first) for each in report.extras if each.first)
    stories = stories_of(report.alarms or (), report.from_utc_s, report.standing)
    if signs := (*worst_alarms(stories, times), *found.signs):
        yield Signs(signs)
    if found.unknown:
        yield Signs(tuple(Sign("missing", each) for each in found.unknown))
    if found.next:
        if found.caution:
            yield Caution("Before that:", found.caution)
        yield Text(f"Next: {found.next}")
    if figures := tuple(_figures(report)):
        yield Figures(figures)
    drawing: Drawing | None = trends_drawing(report, times)
    row = "10 ms, of an RMS a cycle" if report.by_summaries else "10 ms"
    yield Heading(
        "The run", f"line: mean of a column; band: lowest to highest {row}; hatched: not recorded; !: stalled"
    )
    yield drawing or Text("Nothing was measured that could be drawn.")


def _figures(report: Report) -> Iterator[Figure]:
    """What this type of motor is read by from across the room, over the time in which it ran."""
    statistics = {each.id: each for each in report.statistics}
    for key in report.far_line:
        its, one = statistics.get(key), _CATALOGUE.get(key)
        if its is None or one is None:
            continue
        decimals = min(decimals_of(its.u95, one.digits), one.digits)
        ends = f"{number(its.low, decimals)} to {number(its.high, decimals)}"
        ink: Ink = _INKS.get(one.unit, "ink")
        yield Figure(f"{one.label}, mean while it ran", number(its.mean, decimals), one.unit, ends, ink)


def _what_ran(report: Report, times: Times) -> Iterator[Part]:
    board = report.board
    rows = [
        ("motor", report.motor.name),
        ("type", report.type_label),
        ("plate", plate_words(report.motor)),
        ("rig", report.rig),
        ("board", "" if board is None else ", ".join(filter(None, (f"serial number {board.serial}", board.model)))),
        ("firmware", "" if board is None else f"{board.firmware}, protocol {board.protocol}".lstrip(", ")),
        ("source", "" if board is None or board.source == "hardware" else f"{board.source}: no hardware"),
        ("from", times.whole(report.from_utc_s)),
        ("to", times.whole(report.to_utc_s)),
        ("length", length(report.length_s)),
        ("closed", report.closed or "not yet"),
        ("run", report.run),
        ("note", report.note),
    ]
    yield Heading("What ran", page=True)
    yield Facts(tuple((name, words) for name, words in rows if words))


def plate_words(motor: MotorSettings) -> str:
    """What the plate says that a person looks for."""
    said = [(getattr(motor.plate, each.name), _PLATE[each.name]) for each in fields(motor.plate) if each.name in _PLATE]
    whole = [f"{value:g}{FAST}{unit}" for value, unit in said if value is not None]
    return ", ".join(f"1{FAST}pole pair" if each == f"1{FAST}pole pairs" else each for each in whole)


def _spent(report: Report) -> Iterator[Part]:
    whole = sum(seconds for _, seconds in report.spent.values())
    rows = [
        (state, number(count, 0), length(seconds), f"{number(100.0 * seconds / whole, 1)}{FAST}%" if whole else "")
        for state, (count, seconds) in sorted(report.spent.items(), key=lambda each: -each[1][1])
    ]
    yield Heading("How it was spent")
    if not rows:
        yield Text("The motor's state is not known: neither its current nor its speed was told.")
        return
    yield Table(("state", "times", "together", "of the run"), tuple(rows), (3, 1, 2, 1.4), right=(1, 2, 3))
    if report.energy_j is not None:
        energy = measured(report.energy_j / 3600.0, "Wh", None, 2)
        yield Text(f"Active energy by the windows that had a power: {energy}.", second=True)


def _measured(report: Report, times: Times) -> Iterator[Part]:
    yield Heading("Measured while it ran", "± is the 95 % uncertainty")
    if not report.statistics:
        yield Text("There is no reading of a running motor in this run.")
        return
    rows = tuple(_statistic(each, times) for each in report.statistics)
    head = ("reading", "mean", "lowest", "highest", "windows")
    yield Table(head, rows, (3.0, 2.6, 2.2, 2.2, 2.2), right=(1, 2, 3))
    yield Text(
        "Lowest and highest are of single windows, with their moments. ± of a mean is the mean of the windows' own: "
        "what is systematic does not average out. Where there is none, the board states no limit for its channels.",
        second=True,
    )


def _statistic(its: Statistic, times: Times) -> tuple[str, ...]:
    key, _, place = its.id.partition(".")
    one = _CATALOGUE[key]
    decimals = decimals_of(its.u95, one.digits)
    ends = [
        f"{number(value, decimals)} ({times.clock(at_s)})"
        for value, at_s in ((its.low, its.low_utc_s), (its.high, its.high_utc_s))
    ]
    windows = [f"{number(its.good, 0)} good"] if its.good else []
    windows += [f"{number(its.doubtful, 0)} doubtful"] if its.doubtful else []
    windows += [f"{number(its.absent, 0)} absent"] if its.absent else []
    name = f"{one.label}, {place}" if place else one.label
    return (name, measured(its.mean, one.unit, its.u95, one.digits), *ends, ", ".join(windows))


def _events(report: Report, times: Times) -> Iterator[Part]:
    told = report.events
    shown = told if len(told) <= EVENTS_SHOWN else (*told[: EVENTS_SHOWN // 2], *told[-EVENTS_SHOWN // 2 :])
    left = report.events_count - len(shown)
    yield Heading("What happened", f"{number(left, 0)} of {number(report.events_count, 0)} left out" if left else "")
    if not shown:
        yield Text("Nothing that is told as an event.")
        return
    rows = tuple((times.moment(each.utc_s), each.text, each.detail) for each in shown)
    strong = tuple(k for k, each in enumerate(shown) if each.decisive)
    yield Table(("time", "what", "figures"), rows, (time_share(times), 4.0, 4.0), strong=strong)


def _extras(report: Report) -> Iterator[Part]:
    titles = {each.title for each in report.extras}
    if TEST_PLAN not in titles:
        yield from (Heading(TEST_PLAN), Text("There is no test plan for this run."))
    for each in report.extras:
        yield Heading(each.title)
        if each.sentence:
            yield Text(each.sentence)
        if each.rows:
            yield Table(each.rows[0], each.rows[1:], each.shares or (1.0,) * len(each.rows[0]), each.right)
    if DUTY not in titles:
        yield from (Heading(DUTY), Text("No duty was recognised."))


def _channels(report: Report) -> Iterator[Part]:
    yield Heading("Channels and calibration", "as they held at the end")
    rows = tuple(
        (
            each.name,
            each.place,
            f"{number(each.low, 1)} to {number(each.high, 1)}{FAST}{each.unit}",
            "uneven" if each.rate_hz is None else f"{number(each.rate_hz, 0)}{FAST}/s",
            "not stated" if each.gain is None else each.gain.origin,
        )
        for each in report.channels
    )
    if rows:
        yield Table(("channel", "place", "range", "samples", "gain by"), rows, (2, 1.6, 2.2, 1.4, 2.6), right=(3,))
    if not report.calibrations:
        yield Text("No calibration held in this run: values are as the board states its channels.")
    for said in report.calibrations:
        yield Text(said)


def _software(report: Report, times: Times) -> Iterator[Part]:
    yield Heading("Software and settings")
    made = f"{report.software}, report made {times.whole(report.made_utc_s)}; times are kept in UTC and shown local."
    yield Text(made)
    if report.source:
        yield Text(f"Figures: {report.source}.")
    if report.settings:
        yield Lines(tuple(report.settings.splitlines()))
    yield Caution(PROTECTS, "A reading that looks right proves nothing about what is safe to touch.")


def sentences(parts: Sequence[Part]) -> Iterator[str]:
    """All words of a document, for whoever checks that both renderers say the same."""
    for part in parts:
        if isinstance(part, Answer | Heading):
            yield from (part.text, part.second)
        elif isinstance(part, Text):
            yield part.text
        elif isinstance(part, Caution):
            yield from (part.strong, part.text)
        elif isinstance(part, Facts):
            yield from (each for row in part.rows for each in row)
        elif isinstance(part, Figures):
            yield from (said for each in part.rows for said in (each.name, each.value, each.unit, each.below))
        elif isinstance(part, Signs):
            yield from (each.text for each in part.rows)
        elif isinstance(part, Table):
            yield from part.head
            yield from (each for row in part.rows for each in row)
        elif isinstance(part, Lines):
            yield from part.lines
