"""What the entries of a run do: the calls on a pipeline, the same ones live and in replay. Pure."""

from collections.abc import Mapping

from server.calibration.entry import BoardCalibration
from server.calibration.text import parse_calibration
from server.config import RigSettings
from server.pipeline import Output, Pipeline
from server.runs.layout import Entry, Kind
from server.settings.text import parse_rig

_ENDED = "the service was started anew before it ended"


class Course:
    """Performs entries in turn. `pipeline` is None until one has begun; `instead`: settings used for all in them.

    `calibrations`: by the board's serial number, used in place of those in the entries. `samples_only`: nothing is
    computed from the samples. `live`: its board is listened to now.
    """

    def __init__(
        self,
        rig: str,
        instead: RigSettings | None = None,
        calibrations: Mapping[str, BoardCalibration] | None = None,
        samples_only: bool = False,
        live: bool = False,
    ) -> None:
        self._rig, self._instead, self._calibrations = rig, instead, calibrations
        self._samples_only, self._live = samples_only, live
        self.pipeline: Pipeline | None = None

    def perform(self, entry: Entry) -> Output | None:
        """Do what an entry says; what came of it, or None if it says nothing to the pipeline.

        Raises ConfigError if settings in it cannot be read: they were written by another version of this program.
        """
        if entry.kind is Kind.BEGIN:
            before, self.pipeline = self.pipeline, self._begun(self._settings(entry), entry.utc_s)
            return None if before is None else _ended(before)
        if entry.kind is Kind.CALIBRATION and self.pipeline is not None and self._calibrations is None:
            return self.pipeline.calibrate(parse_calibration(entry.text, "calibration of the run"), entry.utc_s)
        if entry.kind is Kind.SETTINGS and self.pipeline is not None:
            return self.pipeline.change(self._settings(entry))
        if entry.kind in (Kind.KEPT, Kind.CHUNK):
            if self.pipeline is None:  # the beginning was lost, with the settings in it
                self.pipeline = self._begun(self._instead or RigSettings(self._rig), entry.utc_s)
            return self.pipeline.push(entry.payload, entry.utc_s)
        return None

    def _begun(self, settings: RigSettings, utc_s: float) -> Pipeline:
        pipeline = Pipeline(settings, self._samples_only, self._live)
        for calibration in (self._calibrations or {}).values():
            pipeline.calibrate(calibration, utc_s)
        return pipeline

    def _settings(self, entry: Entry) -> RigSettings:
        return self._instead or parse_rig(entry.text, "settings of the run", self._rig).settings


def _ended(pipeline: Pipeline) -> Output | None:
    """Nothing more comes to it: the cycle under way is told as it is."""
    cycle = pipeline.cycle_under_way(_ENDED)
    return None if cycle is None else Output(cycles=(cycle,), clock=pipeline.clock)
