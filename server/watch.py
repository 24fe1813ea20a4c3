"""From finished windows to what is said of the motor: readings, rows, run state, events. No wire, no I/O.

One board with one motor since the board's start. What fails in here (a quantity or detector that raises) is left out
with its reason, and the rest goes on.
"""

from dataclasses import dataclass, field

from server.config import MotorSettings, RigSettings
from server.connection import ConnectionCheck, Finding
from server.duty import Cycle, Duty, step, under_way
from server.events import DETECTORS, Block
from server.guarded import Guarded
from server.hall.inputs import edges_per_turn
from server.hall.supply import SensorSupply
from server.motors import motor_type
from server.quantities import (
    SPEED_KEYS,
    Energy,
    Stretch,
    best_speed,
    commutation_readings,
    counted_speed,
    energy_of,
    readings_of,
    shaft_readings,
    speeds_by_inputs,
    window_analysis,
)
from server.quantities.analysis import Analysis
from server.quantities.fundamental import SLOW
from server.quantities.other_supply import judged_by_supply
from server.quantities.switching import SLOW_HZ, changed, marked, marked_changed
from server.readings import DamageReport, Event, Fast, Instant, Reading, absent
from server.samples import EdgeTrain, Samples, SlowSample
from server.stream.assembly import Window
from server.stream.counter_log import CounterLog
from server.stream.edge_log import EdgeLog
from server.stream.main_group import main_group, main_roles
from server.stream.owned import owned
from server.stream.scaling import Group
from server.verdict import Verdict
from server.verdicts import Conclusions, Look
from server.watched_state import WatchedState
from server.wiring.following import Following, Fresh, following_of


@dataclass(slots=True)
class Said:
    """What one window brought to light."""

    instant: Instant
    fast: Fast | None = None
    events: list[Event] = field(default_factory=list)
    faults: list[DamageReport] = field(default_factory=list)
    findings: tuple[Finding, ...] | None = None  # of how the board is connected, as told now; None: not asked
    turned: Fresh | None = None  # what three Hall inputs and the leads brought
    verdicts: tuple[Verdict, ...] | None = None  # what is concluded now; None: not asked
    cycles: list[Cycle] = field(default_factory=list)  # that ended


class Watch:
    """`groups` are all evenly sampled groups of the board; `edges` its inputs, None if it has none;
    `counters` those of them that count."""

    def __init__(
        self,
        settings: RigSettings,
        motor: MotorSettings,
        groups: tuple[Group, ...],
        edges: EdgeLog | None,
        counters: CounterLog | None = None,
    ) -> None:
        self._edges, self._counters, self._stopped_rpm = edges, counters, settings.stopped_rpm
        self._motor, self._plate = motor_type(motor.type), motor.plate
        self._main = main_group(groups, self._motor)
        self._roles = main_roles(groups, self._motor, self._main)
        self._ids = owned(groups, self._motor, self._plate, self._main, self._roles)
        self._faults: dict[str, str] = {}  # what failed in here, by name
        self._detectors = Guarded((f"events of the kind {each.kind}", each.step) for each in DETECTORS)
        main = self._main.channels if self._main else ()
        self._state = WatchedState(main, self._motor, self._plate, settings)
        self._connections = self._check_of(groups)
        self._turned = self._following_of()
        self._concluded = Conclusions()
        self._energy = Energy()
        self._sensors = SensorSupply()
        self._duty: Duty | None = None

    def _check_of(self, groups: tuple[Group, ...]) -> ConnectionCheck | None:
        if self._motor is None:
            return None
        channels = [channel for group in groups for channel in group.channels]
        return ConnectionCheck(self._motor, channels, () if self._edges is None else self._edges.inputs)

    def _following_of(self) -> Following | None:
        if self._motor is None or self._edges is None:
            return None
        channels = self._main.channels if self._main else ()
        return following_of(self._edges.inputs, channels, self._motor, self._plate)

    def window(self, window: Window) -> Said:
        """The readings of a window; of the main group's also the shaft's, rows, run state and events."""
        samples, faults = window.samples, list[DamageReport]()
        self._sensors.take(samples)
        board_s, group = samples.end_tick / samples.tick_hz, window.group
        is_main = self._main is not None and group.index == self._main.index
        train = None
        if is_main and self._edges is not None:
            train = self._edges.train(samples.first_tick, samples.end_tick, window.seen_tick)
        shaft = self._shaft(train, samples.first_tick, samples.end_tick, board_s, faults)
        readings, a = self._computed(samples, group, shaft, faults)
        plain = readings
        readings = [*readings, *self._commutation(samples, train, board_s, faults)]
        fast, states = None, tuple[str, ...]()
        if is_main:
            fast, states, state = self._state.take(
                samples, train, lambda what, error: self._failed(what, error, board_s, faults)
            )
            if a is not None and self._motor is not None:
                state = judged_by_supply(state, a, self._motor)
            if fast is not None and self._state.switched(samples, fast):
                readings = marked(readings)
            elif fast is not None and changed(fast, self._plate, _is_slow(a)):
                readings = marked_changed(readings)
            better = {each.key for each in readings if each.key in SPEED_KEYS}  # the edges are in them
            shaft = [each for each in shaft if each.key not in better]
            readings = self._connected(a, states, [state, *shaft, *readings], board_s, faults)
        first_tick = samples.first_tick if window.gap_first_tick is None else window.gap_first_tick
        interval_s = samples.count / samples.rate_hz
        if is_main:
            come_s = interval_s - float(samples.missing.sum()) / samples.rate_hz
            before_s, clock = (samples.first_tick - first_tick) / samples.tick_hz, samples.channels[0].clock
            time = Stretch(before_s, interval_s, come_s, clock.standard if clock else 0.0)
            doubt = self._connections.doubt if self._connections else ""
            self._energy, sums = energy_of(self._energy, plain, states, time, doubt, self._state.confirmed)
            readings += sums
        said = Said(Instant(first_tick, samples.end_tick, board_s, interval_s, tuple(readings)), fast, [], faults)
        if is_main:
            said.turned = self._turned_by(train, samples, a, said)
            said.events = self._look(samples, fast, states, said)
            said.findings = self._connections.findings if self._connections else None
            said.verdicts = self._conclude(said)
        return said

    def slow(self, sample: SlowSample) -> None:
        """One sample of an uneven channel: the sensors' supply may be one."""
        self._sensors.take_single(sample.channel, sample.tick, sample.value)

    def _turned_by(self, train: EdgeTrain | None, samples: Samples, a: Analysis | None, said: Said) -> Fresh | None:
        if self._turned is None or train is None:
            return None
        try:
            return self._turned.step(train, samples, _driven(a))
        except Exception as error:  # whatever it is, the readings go on
            self._failed("visits of the Hall states", error, said.instant.board_s, said.faults)
            self._turned = None
            return None

    def edges_only(self, first_tick: int, end_tick: int) -> Said:
        """Readings of a board that has inputs and no evenly sampled channel."""
        assert self._edges is not None
        train = self._edges.train(first_tick, end_tick, end_tick)
        faults = list[DamageReport]()
        board_s = end_tick / train.tick_hz
        readings = self._shaft(train, first_tick, end_tick, board_s, faults)
        speed, source, counted = speeds_by_inputs(readings)
        if counted is not None:
            others = [each for each in readings if each.key not in SPEED_KEYS]
            readings = [*best_speed(speed, source, [counted]), *others]
        instant = Instant(first_tick, end_tick, board_s, (end_tick - first_tick) / train.tick_hz, tuple(readings))
        said = Said(instant, faults=faults)
        said.turned = None if self._turned is None else self._turned.between(train, first_tick, train.known_to_tick)
        return said

    def _shaft(
        self, train: EdgeTrain | None, first_tick: int, end_tick: int, board_s: float, faults: list[DamageReport]
    ) -> list[Reading]:
        """What edges and a counter say, each for itself."""
        if train is None:
            return []
        try:
            told = shaft_readings(train, first_tick, train.known_to_tick, self._plate, self._stopped_rpm)
            told = self._sensors.marked(told, end_tick, train.tick_hz)
            counts = None if self._counters is None else self._counters.train()
            if counts is not None:
                told.append(counted_speed(counts, first_tick, end_tick, self._stopped_rpm))
            return told
        except Exception as error:  # whatever it is, the other readings go on
            reason = self._failed("readings of the shaft", error, board_s, faults)
            return [absent("speed_rpm", reason)]

    def _commutation(
        self, samples: Samples, train: EdgeTrain | None, board_s: float, faults: list[DamageReport]
    ) -> list[Reading]:
        try:
            told = commutation_readings(samples, train, self._motor, self._plate)
            return self._sensors.marked(told, samples.end_tick, samples.tick_hz)
        except Exception as error:  # whatever it is, the other readings go on
            self._failed("readings of the commutation", error, board_s, faults)
            return []

    def _computed(
        self, samples: Samples, group: Group, shaft: list[Reading], faults: list[DamageReport]
    ) -> tuple[list[Reading], Analysis | None]:
        ids, all_its = self._ids[group.index]
        speed, source, counted = speeds_by_inputs(shaft)
        try:
            a = window_analysis(samples, self._motor, self._roles[group.index])
            readings = readings_of(a, samples, self._motor, self._plate, speed, source, counted)
        except Exception as error:  # whatever it is, the other readings go on
            board_s = samples.end_tick / samples.tick_hz
            reason = self._failed(f"readings of group {group.index}", error, board_s, faults)
            return [absent(key, reason, place) for key, place in ids.values()], None
        own = readings if all_its else [each for each in readings if each.id in ids]
        return own, a

    def _connected(
        self,
        a: Analysis | None,
        states: tuple[str, ...],
        readings: list[Reading],
        board_s: float,
        faults: list[DamageReport],
    ) -> list[Reading]:
        """The readings, doubtful where the board seems to be connected otherwise than was meant."""
        if self._connections is None:
            return readings
        try:
            self._connections.take(a, states, readings)
        except Exception as error:  # whatever it is, the readings go on
            self._failed("check of the connections", error, board_s, faults)
            self._connections = None
            return readings
        return self._connections.marked(readings)

    def _look(self, samples: Samples, fast: Fast | None, states: tuple[str, ...], said: Said) -> list[Event]:
        """Show the window to every detector."""
        readings, at_s = said.instant.readings, said.instant.board_s
        voltage, current = self._state.voltage, self._state.current
        gap_s = (samples.first_tick - said.instant.first_tick) / samples.tick_hz
        per_turn = 0 if self._edges is None else edges_per_turn(self._edges.inputs, self._plate)
        its = self._motor, self._plate, gap_s, said.turned, per_turn
        block = Block(samples, voltage, current, fast, states, readings, *its)
        self._count(block, said)
        found = self._detectors.step(block, lambda what, error: self._failed(what, error, at_s, said.faults))
        return sorted((each for events in found for each in events), key=lambda event: event.board_s)

    def _count(self, block: Block, said: Said) -> None:
        """Cycles, for a motor whose state is known."""
        if "cycles" in self._faults:
            return
        try:
            self._duty, said.cycles = step(self._duty, block)
        except Exception as error:  # whatever it is, the readings go on
            self._failed("cycles", error, said.instant.board_s, said.faults)
            self._duty = None

    def cycle_under_way(self, why: str = "") -> Cycle | None:
        """The cycle that has not ended, as it is known now; `why`: nothing more will be known of it."""
        return under_way(self._duty, why)

    def _conclude(self, said: Said) -> tuple[Verdict, ...] | None:
        if self._motor is None:
            return None
        at_s, faults = said.instant.board_s, said.faults
        look = Look(at_s, {each.id: each for each in said.instant.readings}, self._motor, self._plate)
        told = self._concluded.step(look, lambda what, error: self._failed(what, error, at_s, faults))
        said.events += self._concluded.news(told, at_s)
        return told

    def _failed(self, what: str, error: Exception, board_s: float, faults: list[DamageReport]) -> str:
        """The reason for the person; the first time, a report of our own fault."""
        reason = f"our own fault: computing the {what} failed ({type(error).__name__}: {error})"
        if what not in self._faults:
            self._faults[what] = reason
            faults.append(DamageReport("fault", board_s, reason[0].upper() + reason[1:]))
        return reason


def _driven(a: Analysis | None) -> bool:
    """Whether a current flows that stands out."""
    if a is None:
        return False
    return any(not row.is_voltage and rms > row.limit for row, rms in zip(a.layout.rows, a.rms, strict=True))


def _is_slow(a: Analysis | None) -> bool:
    if a is None or not a.layout.is_fed:
        return False
    return a.silence == SLOW or (a.frequency_hz is not None and a.frequency_hz < SLOW_HZ)
