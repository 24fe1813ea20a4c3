"""Who measured which motor by which channels, as it was told last. Pure."""

from dataclasses import dataclass

from firmware_protocol import Source
from server.calibration.correction import Correction
from server.config import MotorSettings
from server.pipeline import Output, Pipeline
from server.report.report import Board
from server.samples import Channel
from server.stream.scaling import channel_of


@dataclass(slots=True)
class Held:
    """Give it each part of an output, and the pipeline that it came of."""

    motor: MotorSettings = MotorSettings()  # noqa: RUF009  # frozen
    board: Board | None = None
    channels: tuple[Channel, ...] = ()

    def take(self, part: Output, pipeline: Pipeline | None) -> None:
        """What is told newly of them."""
        if pipeline is None or pipeline.description is None:
            return
        said = pipeline.description
        if part.described is not None:
            who = said.identity
            source = str(who.source) if who.source != Source.HARDWARE else "hardware"
            self.board = Board(who.serial, who.model, who.firmware, source, f"{who.major}.{who.minor}")
        self.motor = pipeline.motor
        if part.described is not None or part.channels:
            tick_hz, none = said.identity.tick_hz, Correction()
            its = ((each, pipeline.corrections.get(each.index, none)) for each in said.held_channels)
            self.channels = tuple(channel_of(each, tick_hz, correction) for each, correction in its)
