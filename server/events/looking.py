"""All detectors over time, each with its state; one that fails is asked no more."""

from collections.abc import Callable

from server.events.block import Block, Detector
from server.readings import Event


class Looking:
    """Of one board with one motor, from the first window on."""

    def __init__(self, detectors: tuple[Detector, ...]) -> None:
        self._detectors: list[tuple[Detector, object]] = [(each, None) for each in detectors]

    def step(self, block: Block, failed: Callable[[str, Exception], object]) -> list[Event]:
        """What happened in the block, in the order of time; `failed` hears of a detector that raises."""
        working: list[tuple[Detector, object]] = []
        events: list[Event] = []
        for detector, state in self._detectors:
            try:
                state, found = detector.step(state, block)
            except Exception as error:  # whatever it is, the other events go on
                failed(f"events of the kind {detector.kind}", error)
                continue
            events += found
            working.append((detector, state))
        self._detectors = working
        return sorted(events, key=lambda event: event.board_s)
