"""Events: moments at which something happened. One file per kind; DETECTORS is the whole list, in reading order."""

from server.events.block import Block, Detector

DETECTORS: tuple[Detector, ...] = ()

__all__ = ["DETECTORS", "Block", "Detector"]
