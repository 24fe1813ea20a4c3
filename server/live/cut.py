"""A stretch of one group of channels that was cut out of its ring and stays as it is. A record; pure."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from server.samples import Channel


@dataclass(frozen=True, slots=True)
class Cut:
    """`values`, `clipped` (channels, samples) and `missing` (samples,) as of a ring; `first_s`: board time of the
    oldest sample."""

    channels: tuple[Channel, ...]
    rate_hz: float
    first_s: float
    values: NDArray[np.float32]
    clipped: NDArray[np.bool_]
    missing: NDArray[np.bool_]

    @property
    def count(self) -> int:
        return int(self.missing.size)

    @property
    def end_s(self) -> float:
        """Board time at which the sample after the newest is due."""
        return self.first_s + self.count / self.rate_hz

    @property
    def bytes(self) -> int:
        return self.values.nbytes + self.clipped.nbytes + self.missing.nbytes
