"""One tick for all viewers: one picture a rig, thinned once, packed once, into the mailbox of each viewer.

A slow or stuck viewer loses pictures, which are counted, and never slows another. Runs on the event loop's thread.
"""

import asyncio
import logging
from collections.abc import Callable, Mapping
from itertools import groupby

from server.live.bench import Alarms, alarms_record, bench_record, is_alive, shown_unasked
from server.live.packing import pack
from server.live.records import Connection, ConnectionState
from server.live.view import View
from server.live.viewer import Mail, Viewer, Wire
from server.live.window import CYCLES

TICK_S = 0.033
STRIP_S = 0.2
VIEWERS_MAX = 128  # 4 MB/s of pictures: what one core sends beside its other work

log = logging.getLogger(__name__)


class TooManyViewersError(Exception):
    """No more viewers are let in."""


class _Strips:
    """Numbers the strips of a rig: a new number five times a second at most, and only when it has changed."""

    def __init__(self) -> None:
        self.number = 0
        self._end: tuple[float, float] | None = None
        self._at_s = 0.0

    def look(self, view: View, now_s: float) -> None:
        strip = view.cycle.strip
        end = (strip.start_utc_s, strip.end_s) if strip is not None else None
        if end != self._end and (not self.number or now_s - self._at_s >= STRIP_S):
            self.number, self._end, self._at_s = self.number + 1, end, now_s


class Hub:
    """`views()` gives the rigs' views by name, in their order; `utc_s()` the service's clock; `alarms()` those of all
    rigs and what is wrong with watching them. Cancel `run()` to end."""

    def __init__(
        self,
        views: Callable[[], Mapping[str, View]],
        utc_s: Callable[[], float],
        alarms: Callable[[], tuple[Alarms, Mapping[str, str]]] = lambda: ({}, {}),
    ) -> None:
        self._views, self._alarms = views, alarms
        self._utc_s = utc_s
        self._viewers: set[Viewer] = set()
        self._coming: set[Viewer] = set()
        self._present = asyncio.Event()
        self._strips: dict[str, _Strips] = {}
        self._failed: set[str] = set()
        self._nobody = View("")
        self.number = 0  # of the newest picture; the viewers of all rigs share the count

    def join(self, rig: str, wire: Wire) -> Viewer:
        """A place for a viewer of this rig; empty: of whichever lives. Where there is none of that name, the pictures
        say so.

        Pictures come from `start` on. Raises TooManyViewersError.
        """
        if self.viewers >= VIEWERS_MAX:
            raise TooManyViewersError(f"{VIEWERS_MAX} viewers are watching already; close a page and try again")
        viewer = Viewer(rig, wire)
        self._coming.add(viewer)
        return viewer

    def start(self, viewer: Viewer) -> None:
        """Its wire is open."""
        self._coming.discard(viewer)
        self._viewers.add(viewer)
        self._present.set()

    def leave(self, viewer: Viewer) -> None:
        """Forget a viewer."""
        self._coming.discard(viewer)
        self._viewers.discard(viewer)
        if not self._viewers:
            self._present.clear()

    @property
    def watching(self) -> tuple[Viewer, ...]:
        """The viewers that get pictures."""
        return tuple(self._viewers)

    @property
    def viewers(self) -> int:
        """How many are watching or about to."""
        return len(self._viewers) + len(self._coming)

    async def run(self) -> None:
        """Tick while somebody watches. A tick that comes late is not made up for."""
        loop = asyncio.get_running_loop()
        due_s = loop.time()
        while True:
            await self._present.wait()
            try:
                self.tick(loop.time())
            except Exception:  # a fault of ours must not end all pictures for ever
                self._tell("", "A tick of the hub failed")
            due_s = max(due_s + TICK_S, loop.time())
            await asyncio.sleep(due_s - loop.time())

    def tick(self, now_s: float) -> None:
        """Give every viewer that can take one a new picture; `now_s` is any clock that never steps."""
        views = dict(self._views()) or {"": self._nobody}
        now_utc_s = self._utc_s()
        alarms, troubles = self._alarms()
        bench: dict[str, object] = {
            "rigs": bench_record(self._views().values(), now_utc_s, alarms),
            "alarms": alarms_record(alarms, troubles),
        }
        self.number += 1
        for viewer in [viewer for viewer in self._viewers if viewer.is_dead(now_s)]:
            viewer.give_up()
            self.leave(viewer)
        unasked = self._unasked(now_utc_s)
        if not unasked:
            views[""] = self._nobody

        def shown(viewer: Viewer) -> str:
            return viewer.rig if viewer.rig and (unasked or viewer.rig in views) else unasked

        views.update({name: _no_rig(name, views) for name in map(shown, self._viewers) if name not in views})
        self._strips = {name: self._strips.get(name) or _Strips() for name in views}

        def drawn(viewer: Viewer) -> tuple[str, int]:
            return shown(viewer), viewer.cycles

        for (name, cycles), group in groupby(sorted(self._viewers, key=drawn), key=drawn):
            self._send(name, views[name], list(group), bench, now_s, now_utc_s, cycles)

    def _unasked(self, now_utc_s: float) -> str:
        """What those are shown who named no rig; empty where there is none at all.

        Once it lives they stay with it, whatever happens to it.
        """
        view = shown_unasked(self._views().values(), now_utc_s)
        if view is None:
            return ""
        if is_alive(view, now_utc_s):
            for viewer in self._viewers:
                if not viewer.rig:
                    viewer.look_at(view.name)
        return view.name

    def _send(
        self,
        name: str,
        view: View,
        viewers: list[Viewer],
        bench: dict[str, object],
        now_s: float,
        now_utc_s: float,
        cycles: int,
    ) -> None:
        strips = self._strips[name]
        strips.look(view, now_s)
        packed: dict[bool, Mail] = {}
        for viewer in viewers:
            if not viewer.ready:
                viewer.passed_over()
                continue
            with_strip = viewer.wants_strip(strips.number)
            if with_strip not in packed:
                message = self.packed(name, view, bench, now_utc_s, with_strip, cycles)
                if message is None:
                    return
                packed[with_strip] = Mail(self.number, message, strips.number if with_strip else None)
            viewer.offer(packed[with_strip], now_s)

    def packed(
        self,
        name: str,
        view: View,
        bench: dict[str, object],
        now_utc_s: float,
        with_strip: bool,
        cycles: int = CYCLES,
    ) -> bytes | None:
        """The picture as it goes over the wire; None, and a line in the log, where it could not be made."""
        try:
            picture = view.picture(now_utc_s, with_strip=with_strip, cycles=cycles)
            return pack({"number": self.number, **picture, **bench})
        except Exception:  # one rig's picture that cannot be made must not take the others' away
            self._tell(name, f"The picture of {name!r} could not be made")
            return None

    def _tell(self, what: str, sentence: str) -> None:
        """Log a fault with its traceback, once: it would come back thirty times a second."""
        if what not in self._failed:
            self._failed.add(what)
            log.exception(sentence)


def _no_rig(name: str, views: Mapping[str, View]) -> View:
    """What is shown to somebody who asked for a rig that is not there."""
    view = View(name)
    view.connection = Connection(ConnectionState.NO_RIG, f'There is no rig "{name}"', f"There are: {', '.join(views)}.")
    return view
