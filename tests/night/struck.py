"""A wire that spoils frames for a while, and what became of each."""

from simulator.faults import Faults

DAMAGE = {"lost_frames": 2e-3, "flipped": 2e-3, "cut_off": 1e-3, "lost_bytes": 1e-3, "merged": 1e-3, "rubbish": 1e-3}
LOST = "lost on the wire"


class StruckWire:
    """Frames with their delimiters go in, in turn."""

    def __init__(self, seed: int) -> None:
        self._faults = Faults(seed, **DAMAGE)
        self._waiting: list[bytes] = []  # to be merged with the one that comes next

    @property
    def waits(self) -> bool:
        """Whether there is a frame of which nobody knows yet what becomes of it."""
        return bool(self._waiting)

    def end(self) -> None:
        """From the next frame on nothing is struck any more."""
        self._faults.change()

    def passed(self, frames: list[bytes]) -> tuple[bytes, list[tuple[str, bytes]]]:
        """What comes out, and of each frame that is known by now why it does not come, or empty."""
        out, fates = b"", list[tuple[str, bytes]]()
        for frame in frames:
            before = len(self._faults.touched)
            piece = self._faults.apply(frame)
            struck = self._faults.touched[before:]
            self._waiting.append(frame)
            if piece or struck:
                fate = LOST if any(each.spoiled for each in struck) else ""
                fates += [(fate, each) for each in self._waiting]
                self._waiting.clear()
            out += piece
        return out, fates
