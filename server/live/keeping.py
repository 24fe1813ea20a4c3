"""Keeps pictures of one rig on purpose: what is armed waits here for its moment, page or not. Pure.

Lives in the rig's view and ends with it: the samples themselves are in the run.
"""

from dataclasses import dataclass

from server.live.arming import Armed, Wanted, What
from server.live.kept import Kept, Shelf, cuts_of
from server.live.latest import Latest
from server.live.pair import Lines
from server.live.records import TIME_DIGITS, BoardClock
from server.live.ring import Ring
from server.motors import MotorType
from server.pipeline import Output
from server.quantities import QUANTITIES
from server.readings import Confidence, Reading

HOLD_S = 2.0  # of the newest samples behind a picture that a page holds
_FREQUENCIES = ("frequency_hz", "current_frequency_hz", "electrical_frequency_hz")
_LABELS = {one.key: (one.label, one.unit) for one in QUANTITIES}


class NothingToKeepError(ValueError):
    """No samples are held."""


@dataclass(frozen=True, slots=True)
class LiveSignals:
    """What is held of the rig now. `sample_s`: board time up to which samples are known."""

    rings: tuple[Ring, ...]
    clock: BoardClock
    latest: Latest
    motor: MotorType | None
    sample_s: float


def seen_of(lines: Lines, clock: BoardClock | None, latest: Latest, motor: MotorType | None) -> LiveSignals | None:
    """The rings of what is drawn; None where there are none, or no clock yet."""
    rings = tuple({id(line.ring): line.ring for line in lines.all if isinstance(line.ring, Ring)}.values())
    if not rings or clock is None:
        return None
    return LiveSignals(rings, clock, latest, motor, min(ring.end_s for ring in rings))


def wanted_words(wanted: Wanted) -> str:
    """As a sentence begins: the next start, or which reading comes to be above or below what."""
    if wanted.what is What.START:
        return "the next start"
    key, _, place = wanted.reading.partition(".")
    label, unit = _LABELS.get(key, (key, ""))
    label = " ".join(reversed(label.split(", ")))  # "current, RMS"
    name = f"{label} at {place}" if place else label
    return f"{name} {'above' if wanted.above else 'below'} {wanted.level:g}{' ' if unit else ''}{unit}"


def kept_words(wanted: Wanted) -> str:
    """What a kept picture is called."""
    words = wanted_words(wanted)
    return "Start" if wanted.what is What.START else f"{words[0].upper()}{words[1:]}"


class Keeping:
    """`armed`: what is waited for, or None; `shelf`: what is kept."""

    def __init__(self) -> None:
        self.shelf = Shelf()
        self.armed: Wanted | None = None
        self._waiting: Armed | None = None
        self._since_utc_s = 0.0
        self._frequency: Reading | None = None  # a good one, since it was armed
        self._moment_s: float | None = None  # it has come; what follows it is still waited for
        self.trouble = ""  # why what had come could not be kept

    def arm(self, wanted: Wanted, board_s: float, utc_s: float) -> None:
        """From this moment on; what was armed before is so no more."""
        self.armed, self._waiting, self._moment_s = wanted, Armed(wanted, board_s), None
        self._since_utc_s, self._frequency, self.trouble = utc_s, None, ""

    def disarm(self) -> None:
        self.armed = self._waiting = self._moment_s = None

    def take(self, output: Output, seen: LiveSignals) -> Kept | None:
        """What was said, after it was taken into the rings; what it made be kept."""
        if self._waiting is None:
            return None
        told = (reading for instant in output.instants for reading in instant.readings)
        self._frequency = next((each for each in told if _is_frequency(each)), self._frequency)
        if self._moment_s is None:
            self._moment_s = self._waiting.take(output)
        wanted = self._waiting.wanted
        if self._moment_s is None or seen.sample_s < self._moment_s + wanted.after_s:
            return None
        return self._keep_it(seen)

    def board_restarts(self, seen: LiveSignals | None) -> None:
        """Board time begins again, rings go: what came before is kept as far as it came."""
        if self._waiting is None:
            return
        if self._moment_s is None:
            self._waiting.restart()
        elif seen is not None:
            self._keep_it(seen)
        else:
            self._lose()

    def hold(self, seen: LiveSignals, seconds: float = HOLD_S) -> Kept:
        """The newest samples, for a page that holds its picture. Raises NothingToKeepError."""
        to_s = seen.sample_s
        kept = self._kept(seen, "held", "held", to_s - seconds, to_s, to_s)
        if kept is None:
            raise NothingToKeepError("no samples of a voltage or a current are held")
        self.shelf.put(kept)
        return kept

    def record(self) -> dict[str, object]:
        """The `keeping` of SOCKET.md."""
        return {
            "armed": self._armed_record(),
            "kept": [each.record() for each in reversed(self.shelf.kept)],
            "trouble": self.trouble,
        }

    def _armed_record(self) -> dict[str, object] | None:
        wanted = self.armed
        if wanted is None:
            return None
        return {
            "what": wanted.what.value,
            "text": wanted_words(wanted),
            "reading": wanted.reading,
            "above": wanted.above,
            "level": wanted.level,
            "before_s": wanted.before_s,
            "after_s": wanted.after_s,
            "within_s": wanted.within_s,
            "since_utc_s": round(self._since_utc_s, TIME_DIGITS),
            "came": self._moment_s is not None,
        }

    def _keep_it(self, seen: LiveSignals) -> Kept | None:
        wanted, moment_s = self.armed, self._moment_s
        assert wanted is not None
        assert moment_s is not None
        text = kept_words(wanted)
        from_s, to_s = moment_s - wanted.before_s, moment_s + wanted.after_s
        kept = self._kept(seen, wanted.what.value, text, from_s, to_s, moment_s)
        if kept is None:
            self._lose()
            return None
        self.shelf.put(kept)
        self.disarm()
        return kept

    def _lose(self) -> None:
        assert self.armed is not None
        self.trouble = f"{kept_words(self.armed)}: it came, but its samples are held no more; the run has them"
        self.disarm()

    def _kept(self, seen: LiveSignals, why: str, text: str, from_s: float, to_s: float, moment_s: float) -> Kept | None:
        """None where nothing is held of it. It begins later, and ends earlier, where the rings do."""
        from_s = max(from_s, min((ring.oldest_s for ring in seen.rings), default=from_s))
        to_s = min(to_s, seen.sample_s)
        cuts = cuts_of(seen.rings, from_s, to_s) if to_s > from_s else ()
        if not cuts:
            return None
        start_utc_s = seen.clock.utc_s(from_s)
        frequency = None if why == "held" else self._frequency
        frequency = frequency or _frequency(seen.latest)
        number = self.shelf.last + 1
        return Kept(number, why, text, from_s, to_s, moment_s, start_utc_s, cuts, seen.motor, frequency)


def _is_frequency(reading: Reading) -> bool:
    """A good one; what is shown keeps a doubt for a while longer, and a start is just such a while."""
    return reading.key in _FREQUENCIES and reading.confidence is Confidence.GOOD


def _frequency(latest: Latest) -> Reading | None:
    """Of the fundamental, good ones first."""
    found = [reading for key in _FREQUENCIES if (reading := latest.get(key)) is not None]
    numbers = [reading for reading in found if isinstance(reading.value, float)]
    return min(numbers, key=lambda reading: reading.confidence is not Confidence.GOOD, default=None)
