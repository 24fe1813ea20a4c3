"""Since when the motor has done the same thing: what is made of a second must not mix two. Pure."""

from math import inf

from server.pipeline import Output

_SWITCHED = {
    "power_on": "it was switched on",
    "power_off": "it was switched off",
    "reversed": "it was reversed",
}
_STATES = {
    "starting": "its start began",
    "running": "it runs steadily",
    "stalled": "it stalled",
    "coasting": "it began to coast",
    "resting": "it came to rest",
}


class Steadiness:
    """`since_s`: board time of the last change, -inf where none was told; `words`: what it was."""

    def __init__(self) -> None:
        self.since_s, self.words = -inf, ""

    def take(self, output: Output) -> None:
        """What one push told, its changes in any order: the newest counts."""
        if output.anew:
            self.since_s, self.words = -inf, ""
        told = [(each.board_s, _SWITCHED[each.kind]) for each in output.events if each.kind in _SWITCHED]
        changes = (change for fast in output.fast for change in fast.changes)
        told += [(each.board_s + each.give_s, _STATES[each.state]) for each in changes if each.state in _STATES]
        self.since_s, self.words = max([(self.since_s, self.words), *told], key=lambda each: each[0])
