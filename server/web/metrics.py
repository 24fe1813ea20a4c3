"""How the service is, as numbers for a monitor: OpenMetrics 1.0. Names begin with slipring_, units are base units."""

import shutil
from collections.abc import Iterable, Iterator
from contextlib import suppress

from prometheus_client.core import CounterMetricFamily, GaugeMetricFamily, InfoMetricFamily, Metric
from prometheus_client.openmetrics.exposition import generate_latest
from prometheus_client.registry import CollectorRegistry

import server
from server.all_alarms import AllAlarms
from server.live.records import ConnectionState, RecordingState
from server.notify.worker import Standing
from server.rigs import Rigs

_COUNTED = (
    ("frames", "Frames that came whole."),
    ("frames_lost", "Frames that did not come."),
    ("checksum", "Frames whose checksum was wrong."),
    ("samples_missing", "Samples that did not come."),
    ("dropped_blocks", "Blocks that the board itself dropped, as it says."),
)


class Metrics:
    """Made anew for each answer: nothing is counted here that is not known elsewhere."""

    def __init__(self, rigs: Rigs, alarms: AllAlarms, receivers: Iterable[Standing], started_utc_s: float) -> None:
        self._rigs, self._alarms, self._receivers = rigs, alarms, list(receivers)
        self._started_utc_s = started_utc_s

    def text(self) -> bytes:
        registry = CollectorRegistry(auto_describe=False)
        registry.register(self)
        return bytes(generate_latest(registry))  # type: ignore[no-untyped-call]  # the library gives it no types

    def collect(self) -> Iterator[Metric]:
        yield InfoMetricFamily("slipring_build", "What runs.", {"version": server.VERSION})
        yield GaugeMetricFamily("slipring_start_time_seconds", "Since when, UTC.", self._started_utc_s, unit="seconds")
        with suppress(OSError):
            free = shutil.disk_usage(self._rigs.data).free
            yield GaugeMetricFamily("slipring_disk_free_bytes", "Free where recordings go.", free, unit="bytes")
        yield from self._of_rigs()
        yield from self._of_receivers()

    def _of_rigs(self) -> Iterator[Metric]:
        now_s, label = self._rigs.utc_s(), ["rig"]
        live = GaugeMetricFamily("slipring_rig_live", "1: samples come from its board.", labels=label)
        kept = GaugeMetricFamily("slipring_rig_recording", "1: its bytes are recorded.", labels=label)
        age = GaugeMetricFamily(
            "slipring_rig_sample_age_seconds", "Of the newest sample.", labels=label, unit="seconds"
        )
        standing = GaugeMetricFamily("slipring_rig_alarms", "Alarms that have not ended.", labels=["rig", "rank"])
        counted = {key: CounterMetricFamily(f"slipring_rig_{key}", text, labels=label) for key, text in _COUNTED}
        alarms = {rig: [a for a in its if a["ended_utc_s"] is None] for rig, its in self._alarms.standing().items()}
        for rig in self._rigs:
            view, name = rig.view, [rig.name]
            live.add_metric(name, view.connected(now_s).state is ConnectionState.LIVE)
            kept.add_metric(name, view.recorded().state is RecordingState.RECORDING)
            if view.sample_utc_s is not None:
                age.add_metric(name, max(0.0, view.time.of(now_s) - view.sample_utc_s))
            for rank in ("alarm", "caution"):
                standing.add_metric([rig.name, rank], sum(a["rank"] == rank for a in alarms.get(rig.name, ())))
            damage = view.health.damage(True)
            for key, family in counted.items():
                family.add_metric(name, float(str(damage[key])))
        yield from (live, kept, age, standing, *counted.values())

    def _of_receivers(self) -> Iterator[Metric]:
        now_s, label = self._rigs.utc_s(), ["receiver"]
        waiting = GaugeMetricFamily("slipring_receiver_waiting", "Messages that it does not have yet.", labels=label)
        key = "slipring_receiver_oldest_age_seconds"
        oldest = GaugeMetricFamily(key, "Of the oldest of them.", labels=label, unit="seconds")
        failing = GaugeMetricFamily("slipring_receiver_failing", "1: the last attempt failed.", labels=label)
        for its in self._receivers:
            waiting.add_metric([its.name], its.queue.count)
            if its.queue.oldest_utc_s is not None:
                oldest.add_metric([its.name], max(0.0, now_s - its.queue.oldest_utc_s))
            failing.add_metric([its.name], bool(its.error))
        yield from (waiting, oldest, failing)
