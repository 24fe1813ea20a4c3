"""What a viewer can see of one rig, kept up to date by what the pipeline says.

Pure: no I/O, no clock. Not thread-safe: it lives on the event loop's thread with its rig. Memory is bounded however
long it lives.
"""

from collections import deque
from collections.abc import Callable
from dataclasses import asdict, replace
from typing import Any

from server.config import SPEED_UNITS, Limit, Wires
from server.live.ageing import Age, age
from server.live.concluded import Concluded
from server.live.cycle import Cycle
from server.live.hall_ring import HallRing
from server.live.header import connection_record, event_record, motor_record, recording_record
from server.live.health import Health
from server.live.keeping import Keeping, LiveSignals, seen_of
from server.live.latest import Latest
from server.live.own_time import REAL_TIME
from server.live.pair import Lines, drawn_lines
from server.live.records import TIME_DIGITS, BoardClock, Connection, ConnectionState, Playing, Recording, Shown
from server.live.ring import Ring
from server.live.scene import Scene
from server.live.steadiness import Steadiness
from server.live.strip_rows import without_bounds
from server.live.window import CYCLES
from server.live.wire import Wire
from server.motors import motor_type
from server.pipeline import Description, Output
from server.quantities import HARMONIC_LISTS
from server.readings import Confidence, Event, Instant
from server.samples import Channel, Samples
from server.stream.scaling import channel_of, input_of

EVENTS_KEPT = 40
RINGS_MAX = 16  # groups that are drawn; the wire allows more than anybody looks at
FAR_LINE = ("speed_rpm", "current_rms_a", "voltage_rms_v")  # where the motor's type is not known
_AGED = {Age.FRESH: ConnectionState.LIVE, Age.STALE: ConnectionState.STALE, Age.ABSENT: ConnectionState.TOO_OLD}


class View:
    """Set `connection` and `motor` whenever they change; call `take` with every output of the pipeline.

    Rings and the strip need no call of their own: a board that has started anew begins them anew, and the gap is shown.
    `demo_motor`: the motor of the demo bench whose software board the service runs for this rig, or empty; then also
    the story that it plays (empty: all in turn), and `time` is how its time passes. All times here are the rig's; only
    `service_utc_s` is the service's clock.
    `recorded` tells how the recording is now: the disk is a matter of its own, bytes may come or not.
    """

    def __init__(self, name: str, demo_motor: str = "", recorded: Callable[[], Recording] = Recording) -> None:
        self.name = name
        self.demo_motor = demo_motor
        self.demo_story, self.time = "", REAL_TIME
        self._connection, self._wire = Connection(), Wire()
        self.recorded = recorded
        self.playing: Playing | None = None  # what is seen is a recorded run
        self.motor = Shown()
        self.latest = Latest()
        self.health = Health()
        self.cycle = Cycle()
        self.keeping = Keeping()
        self.events: deque[dict[str, Any]] = deque(maxlen=EVENTS_KEPT)
        self.state_since_utc_s: float | None = None
        self.started_in_s: float | None = None  # of the last start, as long as it lasts
        self.speed_unit, self.limits = SPEED_UNITS[0], tuple[Limit, ...]()
        self.wires = Wires()  # what a person calls them
        self.set_aside: tuple[str, ...] = ()  # what a person said of channels that this board cannot mean
        self.concluded = Concluded()
        self.instead_of = ""  # serial number of the board that this rig had before this one
        self.steadiness = Steadiness()
        self.followers: set[Callable[[Output, BoardClock], None]] = set()  # told of everything that is taken
        self._rings: dict[int, Ring] = {}
        self.hall = HallRing(())
        self._scene = Scene()
        self._synchronous_rpm: float | None = None
        self._clock: BoardClock | None = None
        self._board_s: float | None = None  # newest board time heard of
        self._sample_s: float | None = None  # newest sample, board time
        self._interval_s = 0.0  # the shortest that a channel of this board promises
        self._restarted = False

    def take(self, output: Output, clock: BoardClock) -> None:
        """What one push brought, and the clock of the board that it came from."""
        if output.anew:
            self._start_anew(self.seen)
        self._clock = clock
        if output.described is not None:
            self._describe(output.described, output.channels)
        elif output.channels:
            self.health.calibrate(output.channels)
        for block in output.samples:
            self._take_block(block)
        for sample in output.slow:
            self._sample_s = self._newer(self._sample_s, sample.tick)
        if output.edges is not None:
            self.hall.take(output.edges)
        if output.status is not None:
            self._board_s = self._newer(self._board_s, output.status.tick)
        self.concluded.take(output)
        self._take_rows(output, clock)
        for instant in output.instants:
            self.latest.take(instant, clock)
            if not output.fast:  # rows tell it sooner, and since when
                self._take_state(instant, clock)
        for event in output.events:
            self.tell(event, clock.utc_s(event.board_s))
            if event.kind == "running":
                self.started_in_s = event.value
        if self.keeping.armed is not None and (seen := self.seen) is not None:
            self.keeping.take(output, seen)
        self.health.take(output, clock, self.board_s)
        self.steadiness.take(output)
        for follower in tuple(self.followers):
            follower(output, clock)

    def tell(self, event: Event, utc_s: float) -> None:
        """Something that happened, newest first: some things are told later than what came after them."""
        utc_s = round(utc_s, TIME_DIGITS)
        later = sum(each["utc_s"] > utc_s for each in self.events)
        if later == EVENTS_KEPT:
            return
        if len(self.events) == EVENTS_KEPT:
            self.events.pop()
        self.events.insert(later, event_record(event, utc_s))

    @property
    def connection(self) -> Connection:
        """As it was last said; `connected` is how it is now."""
        return self._connection

    @connection.setter
    def connection(self, said: Connection) -> None:
        self._connection, told = self._wire.take(said)
        if told is not None:
            self.tell(*told)

    def forget(self) -> None:
        """Readings so far were made of other channels, or for another motor: what is not read again is not shown."""
        self.latest, self.cycle, self.concluded = Latest(), Cycle(), Concluded()
        self.state_since_utc_s = self.started_in_s = None

    @property
    def board_s(self) -> float | None:
        """The newest board time heard of, seconds since the board started."""
        times = [time for time in (self._board_s, self._sample_s) if time is not None]
        return max(times, default=None)

    @property
    def sample_utc_s(self) -> float | None:
        """When the newest sample was taken; of a board without channels, its newest sign of life."""
        newest_s = self._sample_s if self.health.has_channels else self.board_s
        return None if newest_s is None or self._clock is None else self._clock.utc_s(newest_s)

    def connected(self, service_utc_s: float) -> Connection:
        """The connection as it is now: live, or for how long nothing has come."""
        said = self.connection
        newest_utc_s = self.sample_utc_s or said.since_utc_s
        if said.state is not ConnectionState.LIVE or newest_utc_s is None:
            return said
        newest_utc_s = max(newest_utc_s, said.since_utc_s or newest_utc_s)  # samples from before the cable was out
        state = _AGED[age((self.time.of(service_utc_s) - newest_utc_s) / self.time.hurry, self._interval_s)]
        return replace(said, state=state)

    def picture(
        self, service_utc_s: float, columns: int = 600, with_strip: bool = True, cycles: int = CYCLES
    ) -> dict[str, object]:
        """The picture of SOCKET.md but for `number` and `rigs`, which the hub adds; arrays are float32 numpy arrays."""
        clock, connection = self._clock, self.connected(service_utc_s)
        identity, kind = self.health.identity, motor_type(self.motor.type)
        return {
            "kind": "picture",
            "rig": self.name,
            "demo": identity is not None and identity.source != "hardware",
            "source": identity.source if identity is not None else "",
            "now_utc_s": self.time.of(service_utc_s),
            "sample_utc_s": self.sample_utc_s,
            "sample_utc_uncertainty_s": clock.uncertainty_s if clock else None,
            "connection": connection_record(connection),
            "recording": recording_record(self.recorded()),
            "playing": None if self.playing is None else asdict(self.playing),
            "motor": motor_record(self.motor),
            "speed_unit": self.speed_unit,
            "limits": {limit.reading: [limit.low, limit.high] for limit in self.limits},
            "far": list(kind.far_line if kind else FAR_LINE),
            "readings": self.latest.record(self.time.of(service_utc_s), self.time.hurry, HARMONIC_LISTS),
            "state_since_utc_s": self.state_since_utc_s,
            "context": {"started_in_s": self.started_in_s},
            "events": list(self.events),
            "damage": self.health.damage(connection.state is ConnectionState.LIVE),
            "board": self.board_record(),
            "keeping": self.keeping.record(),
            "trace": self._trace(columns, cycles),
            "strip": self._strip() if with_strip else None,
            "hall": self.hall.record(self.latest, self.motor.plate.hall_spacing_deg),
            **self.concluded.record(self.wires),
        }

    def readings(self, service_utc_s: float) -> dict[str, dict[str, object]]:
        """The `readings` of SOCKET.md, each as trustworthy as it still is now."""
        return self.latest.record(self.time.of(service_utc_s), self.time.hurry)

    def board_record(self) -> dict[str, object] | None:
        """The `board` of SOCKET.md; None until a description came."""
        board = self.health.board(self.board_s, self._clock.drift_ppm if self._clock else None)
        return None if board is None else {**board, "instead_of": self.instead_of, "set_aside": list(self.set_aside)}

    def _describe(self, described: Description, calibrated: tuple[Channel, ...]) -> None:
        who, before = described.identity, self.health.identity
        if before is not None and before.serial != who.serial:
            self.health = Health()
            self.forget()
        if before is not None and (before.serial, before.boot) != (who.serial, who.boot):
            self._start_anew()  # while nobody listened
        inputs = tuple(input_of(said) for said in described.inputs)
        if self._restarted or inputs != self.hall.inputs:
            self.hall = HallRing(inputs)
        channels = calibrated or tuple(channel_of(said, who.tick_hz) for said in described.held_channels)
        if channels != self.health.channels:
            self.forget()
        self.health.describe(described, channels)
        self._rings = {number: ring for number, ring in self._rings.items() if set(ring.channels) <= set(channels)}
        intervals = (each.interval_max_s or (1 / each.rate_hz if each.rate_hz else 0.0) for each in channels)
        self._interval_s = min(intervals, default=0.0)

    def _start_anew(self, seen: LiveSignals | None = None) -> None:
        """Board time begins again at 0; `seen`: what was there until now, where its times are still known."""
        self.keeping.board_restarts(seen)
        self._rings.clear()
        self._board_s = self._sample_s = None
        self._restarted = True

    def _newer(self, known_s: float | None, tick: int) -> float | None:
        if self.health.identity is None:
            return known_s
        return max(tick / self.health.identity.tick_hz, known_s or 0.0)

    def _take_block(self, block: Samples) -> None:
        number = block.channels[0].group or 0
        ring = self._rings.get(number)
        if ring is None or not ring.fits(block):
            if ring is None and len(self._rings) >= RINGS_MAX:
                return
            ring = self._rings[number] = Ring(block)
        ring.take(block)
        self._sample_s = max(ring.end_s, self._sample_s or 0.0)

    def _take_rows(self, output: Output, clock: BoardClock) -> None:
        for fast in output.fast:
            if self._restarted and fast.board_s.size:
                self.cycle.restart(float(fast.board_s[0]), clock.utc_s(float(fast.board_s[0])))
                self._restarted = False
            self.cycle.take(without_bounds(fast, output.instants))
            for change in fast.changes:
                self._enter(change.state, change.board_s, clock)

    def _take_state(self, instant: Instant, clock: BoardClock) -> None:
        for reading in instant.readings:
            if reading.key != "run_state":
                continue
            self._enter(str(reading.value) if reading.value is not None else "unknown", instant.board_s, clock)

    def _enter(self, state: str, board_s: float, clock: BoardClock) -> None:
        """The run state since a moment; said again, it changes nothing."""
        utc_s = clock.utc_s(board_s)
        if state != self.cycle.state:
            self.state_since_utc_s = utc_s
            if state in ("starting", "resting"):
                self.started_in_s = None
        self.cycle.enter(state, board_s, utc_s)

    @property
    def lines(self) -> Lines:
        """The channels that are drawn, with their newest second; valid until the next `take`."""
        return drawn_lines(self._rings.values(), motor_type(self.motor.type))

    @property
    def seen(self) -> LiveSignals | None:
        """What could be kept now; None where no voltage or current has come."""
        return seen_of(self.lines, self._clock, self.latest, motor_type(self.motor.type))

    def _trace(self, columns: int, cycles: int) -> dict[str, object] | None:
        if self._clock is None:
            return None
        kind = motor_type(self.motor.type)
        return self._scene.trace(self.lines, kind, self.latest, self.hall.rises_s, self._clock, columns, cycles)

    def _strip(self) -> dict[str, object] | None:
        if self.cycle.strip is None:
            return None
        return {**self.cycle.strip.record(), "synchronous_speed_rpm": self._limit_rpm()}

    def _limit_rpm(self) -> float | None:
        """The synchronous speed; while it is doubtful the last good one: a supply that comes or goes moves no limit."""
        reading = self.latest.get("synchronous_speed_rpm")
        if reading is None or reading.confidence is not Confidence.DOUBTFUL:
            self._synchronous_rpm = self.latest.number("synchronous_speed_rpm")
        return self._synchronous_rpm
