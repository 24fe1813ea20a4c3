"""Where nothing of a run came: between two chunks with a mark between them, as the cable was out or the service, or
with a silence that no board keeps. Pure."""

from server.runs.layout import Entry, Kind

# A board says something every 250 ms (SPEC.md); a shorter pause is one of the wire, and counted among its losses.
HOLE_S = 1.5
HOLES_MAX = 400  # that are kept, the first ones; all are summed up

Span = tuple[float, float]  # UTC seconds


class Holes:
    """Give it the entries in turn. `from_utc_s`, `to_utc_s`: of the first and the newest chunk; `found`: the first
    HOLES_MAX; `seconds`: of all, `silent_s`: of those without a mark."""

    def __init__(self) -> None:
        self.from_utc_s: float | None = None
        self.to_utc_s: float | None = None
        self.found: list[Span] = []
        self.seconds = 0.0
        self.silent_s = 0.0
        self._marked = False

    def take(self, entry: Entry) -> Span | None:
        """The hole that this entry ends, if it does."""
        if entry.kind is Kind.MARK:
            self._marked = True
        if entry.kind is not Kind.CHUNK:
            return None
        since, until, marked = self.to_utc_s, entry.utc_s, self._marked
        self.from_utc_s = until if self.from_utc_s is None else self.from_utc_s
        self.to_utc_s, self._marked = until, False
        if since is None or until - since <= (0.0 if marked else HOLE_S):
            return None
        self.seconds += until - since
        self.silent_s += 0.0 if marked else until - since
        if len(self.found) < HOLES_MAX:
            self.found.append((since, until))
        return since, until
