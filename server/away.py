"""How long the board of a rig was away: gaps of its run, and pauses after it sent more than this PC can compute."""

from server.live.records import Recording, RecordingState
from server.runs.marks import NOT_KEPT_UP as NOT_KEPT_UP
from server.runs.writer import Writing

PAUSES_S = (5.0, 10.0, 20.0, 40.0, 80.0, 160.0, 300.0)  # a busy moment is soon over; what lasts is not tried for ever
CALM_S = 60.0  # kept up with for so long, the next pause is the shortest again


class Away:
    """Of one rig: `opened` tells of its port. What it does not know it is given."""

    def __init__(self) -> None:
        self.is_open = False
        self._gone_utc_s: float | None = None  # since when the port is not open any more
        self._gaps: tuple[str, float] = "", 0.0  # the run and how long its board was gone in it, up to the last gap
        self._pauses = 0
        self._opened_utc_s = 0.0

    def opened(self, is_open: bool, run: str, utc_s: float) -> None:
        """The port is open, or not any more."""
        if self._gone_utc_s is not None:
            self._gaps = run, utc_s - self._gone_utc_s + self._gaps_s(run)
        self.is_open, self._gone_utc_s = is_open, None if is_open else utc_s
        self._opened_utc_s = utc_s if is_open else self._opened_utc_s

    def next_pause_s(self, utc_s: float) -> float:
        """It could not be kept up with: for how long its port stays closed, longer each time."""
        if utc_s - self._opened_utc_s >= CALM_S:
            self._pauses = 0
        self._pauses += 1
        return PAUSES_S[min(self._pauses, len(PAUSES_S)) - 1]

    def recorded(self, writing: Writing, not_recorded: str) -> Recording:
        """How the recording is now, whatever the board does."""
        if not_recorded:
            return Recording(RecordingState.FAILED, reason=not_recorded)
        state, gap_utc_s = RecordingState(writing.state), writing.gap_since_utc_s
        if state is RecordingState.RECORDING and self._gone_utc_s is not None:
            state, gap_utc_s = RecordingState.GAP, self._gone_utc_s
        gaps_s = writing.gaps_s + self._gaps_s(writing.run)
        ends = gaps_s, writing.free_bytes, None, writing.lost_utc_s
        return Recording(state, writing.since_utc_s, gap_utc_s, writing.run, writing.reason, *ends)

    def _gaps_s(self, run: str) -> float:
        return self._gaps[1] if self._gaps[0] == run else 0.0


def too_slow_words(demo_motor: str) -> tuple[str, str]:
    """What is short and what to do; `demo_motor`: of a software board, or empty."""
    if demo_motor:
        what = f"This PC is too slow for the demo motor {demo_motor.replace('_', ' ')} now"
        return what, "Its processor has no time left. End other programs, or stop another demo motor."
    what = "This PC is too slow for what this board sends"
    return what, "Its processor has no time left. End other programs or stop a demo motor, or let the board send less."
