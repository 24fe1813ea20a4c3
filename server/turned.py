"""What one board brings of its Hall inputs and leads, window by window, for the Wiring screen. No I/O.

Knows the view for who the board is and what is read of it; samples of the leads are joined to the windows that they are
of. A board that starts anew, or is another, begins anew.
"""

from firmware_protocol import Role
from server.hall.supply import SENSOR_SUPPLY
from server.hall.table import sectors
from server.live.view import View
from server.motors import motor_type
from server.pipeline import Output
from server.procedures.hall_records import Observation
from server.samples import Channel, Samples
from server.wiring.around import Around
from server.wiring.following import Fresh
from server.wiring.gathering import Gathering
from server.wiring.grounds import Grounds, Known
from server.wiring.leads import Leads, Probes, joined, leads_of, probes_of

_WAITING_S = 2.0  # samples that no window claims are of no use
_DIRECTIONS = {"forward": 1, "backward": -1}


class Turned:
    """Of one view. `halls`: it has three Hall inputs; `whole`: as `Gathering`."""

    def __init__(self, view: View, whole: bool = False) -> None:
        self._view, self._whole = view, whole
        self._gathering: Gathering | None = None
        self._probes: dict[tuple[Channel, ...], Probes | None] = {}
        self._leads: list[Leads] = []  # each directly behind the one before
        self._motor = ""
        self._levels: int | None = None
        self._news = 0
        self._grounds: Grounds | None = None  # of the newest window
        self._sensors: dict[Role, float] = {}

    @property
    def halls(self) -> bool:
        return self._view.hall.present

    @property
    def news(self) -> int:
        """Another number: something else can be told."""
        return self._news

    def anew(self) -> None:
        """Forget what was turned."""
        self._told_other()
        if self._gathering is not None:
            self._gathering.anew()

    def take(self, output: Output) -> bool:
        """What one push brought; whether it was a whole window."""
        motor = self._view.motor.type
        if output.anew or output.described is not None or output.channels or motor != self._motor:
            self._gathering, self._leads, self._motor = None, [], motor
            self._told_other()
            self._probes.clear()
            self._sensors.clear()
            self._levels = None
        for sample in output.slow:
            if sample.channel.place == SENSOR_SUPPLY:
                self._sensors[sample.channel.role] = sample.value
        for block in output.samples:
            self._take_block(block)
        for fresh in output.turned:
            self._take_window(fresh)
        return bool(output.turned)

    def grounds(self, known: Known) -> Grounds | None:
        """Of what was turned so far; None before the first window. One for all who ask between two windows."""
        if self._gathering is None:
            return None
        if self._grounds is None or self._grounds.known != known:
            self._grounds = self._gathering.grounds(known)
        return self._grounds

    def driven(self, known: Known) -> Grounds | None:
        """Of what ran under power, apart from what was turned; None where nothing did."""
        return None if self._gathering is None else self._gathering.driven(known)

    @property
    def around(self) -> Around:
        return Around() if self._gathering is None else self._gathering.around

    @property
    def sensor_a(self) -> float | None:
        """Current of the sensors, None where it is not measured."""
        return self._sensors.get(Role.CURRENT)

    @property
    def sensor_v(self) -> float | None:
        """Voltage of the sensors' supply, None where it is not measured."""
        return self._sensors.get(Role.VOLTAGE)

    def seen(self, known: Known) -> Observation:
        """What a step of the guided check sees now."""
        latest = self._view.latest
        sector = 0 if self._levels is None else int(sectors(known.spacing_deg)[self._levels])
        return Observation(
            grounds=self.grounds(known),
            probed=True if self._gathering is None else self._gathering.probed,
            still_s=0.0 if self._gathering is None else self._gathering.still_s,
            sector=sector,
            run_state=latest.word("run_state") or "",
            direction=_DIRECTIONS.get(latest.word("direction") or "", 0),
            speed_rpm=latest.number("speed_rpm"),
            current_a=latest.number("current_mean_a"),
            sensor_v=self.sensor_v,
            sensor_a=self.sensor_a,
        )

    def _told_other(self) -> None:
        self._news, self._grounds = self._news + 1, None

    def _take_block(self, block: Samples) -> None:
        if block.channels not in self._probes:
            motor = motor_type(self._motor)
            self._probes[block.channels] = None if motor is None else probes_of(block.channels, motor)
        for channel, row in zip(block.channels, block.values, strict=True):
            if channel.place == SENSOR_SUPPLY and row.size:
                self._sensors[channel.role] = float(row[-1])
        probes = self._probes[block.channels]
        if probes is None:
            return
        fresh, before = leads_of(block, probes), self._leads
        if before and abs(before[-1].end_tick - fresh.first_tick) > 0.5 * fresh.ticks_per_sample:
            before.clear()  # something is missing between them
        before.append(fresh)
        while len(before) > 1 and fresh.end_tick - before[0].end_tick > _WAITING_S * block.tick_hz:
            before.pop(0)

    def _take_window(self, fresh: Fresh) -> None:
        identity = self._view.health.identity
        if identity is None:
            return
        if self._gathering is None:
            probes = next((each for each in self._probes.values() if each is not None), None)
            least_v = 0.0 if probes is None else probes.least_v
            self._gathering = Gathering(identity.tick_hz, probes is not None, least_v, self._whole)
        self._levels = fresh.levels
        self._told_other()
        self._gathering.take(fresh, self._leads_until(fresh.end_tick))

    def _leads_until(self, end_tick: int) -> Leads | None:
        """What came up to the end of a window; what came after it waits for the next."""
        if not self._leads:
            return None
        leads = joined(self._leads)
        count = min(max(int((end_tick - leads.first_tick) // leads.ticks_per_sample), 0), leads.count)
        self._leads = [leads.since(count)] if count < leads.count else []
        return leads.until(count) if count else None
