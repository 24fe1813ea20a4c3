"""What is on the wire whatever is measured: a line that stays, whole frames, status, nothing lost."""

from collections import Counter
from itertools import pairwise

from firmware_protocol import DamageKind, SampleBlock, Status
from firmware_protocol.rate import STATUS_EVERY_S
from server.board_check.record import DESCRIBE, SETTLE, STREAM, Record
from server.board_check.verdict import NO_DESCRIPTION, Check, CheckResult, failed, not_tried, passed

_MODULUS = 1 << 32
_NO_FAULT = (DamageKind.CUT_START, DamageKind.UNKNOWN)


def stays(record: Record) -> CheckResult:
    if record.gone:
        return failed(f"the port went away at: {record.gone}")
    return passed("to the end") if record.finished(SETTLE) else not_tried("a file was read")


def frames(record: Record) -> CheckResult:
    good = sum(1 for _ in record.received())
    found = Counter(each.kind.value for each in record.damage() if each.kind not in _NO_FAULT)
    for phase in record.phases:
        found.update({kind.value: count for kind, count in phase.beyond.items() if kind not in _NO_FAULT})
    if found:
        example = next(each for each in record.damage() if each.kind not in _NO_FAULT)
        kinds = ", ".join(f"{count} {kind}" for kind, count in found.items())
        return failed(f"{kinds} among {good} good frames; the first at byte {example.offset}: {example.detail}")
    return passed(f"{good} frames, each whole and in turn") if good else failed("not one good frame came")


def status(record: Record) -> CheckResult:
    said = record.description
    if said is None:
        return NO_DESCRIPTION
    ticks = [each.tick for each in record.of(Status)]
    if len(ticks) < 2:
        return failed(f"{len(ticks)} status messages came")
    if min(after - before for before, after in pairwise(ticks)) < 0:
        return failed("its ticks went back")
    steps = [after - before for before, after in pairwise([*ticks, max(record.newest_tick(), ticks[-1])])]
    longest_s = max(steps) / said.identity.tick_hz
    blocks, now = record.of(SampleBlock, STREAM), record.of(Status, STREAM)[-1:]
    if blocks and now and not now[0].streaming:
        return failed("it says that it does not stream while samples come")
    if longest_s > STATUS_EVERY_S and record.lost():
        return not_tried("frames were lost, and status with them")
    if longest_s > STATUS_EVERY_S:
        return failed(f"{1000 * longest_s:.0f} ms passed between two of them, at most 250 ms")
    return passed(f"{len(ticks)}, at the latest after {1000 * longest_s:.0f} ms")


def losses(record: Record) -> CheckResult:
    """While it streams, compared with the last status before."""
    blocks = record.of(SampleBlock, STREAM)
    statuses = [*record.of(Status, DESCRIBE)[-1:], *record.of(Status, STREAM)]
    if len(statuses) < 2 or record.description is None:
        return NO_DESCRIPTION if record.description is None else not_tried("no status came while it streamed")
    counts = [(each.dropped_blocks, each.overruns, each.lost_edges) for each in (statuses[0], statuses[-1])]
    said = [(after - before) % _MODULUS for before, after in zip(*counts, strict=True)]
    if _went_back(record.of(Status)):
        return failed("its own counts went back")
    named = (f"{said[0]} dropped blocks", f"{said[1]} overruns", f"{said[2]} lost edges")
    if not any(said):
        return passed(f"none in {record.seconds:g} s, {len(blocks)} blocks")
    return failed(", ".join(name for name, count in zip(named, said, strict=True) if count) + " by its own count")


def _went_back(statuses: list[Status]) -> bool:
    counts = [(each.dropped_blocks, each.overruns, each.lost_edges) for each in statuses]
    pairs = (pair for before, after in pairwise(counts) for pair in zip(before, after, strict=True))
    return any((after - before) % _MODULUS > _MODULUS // 2 for before, after in pairs)


CHECKS = (
    Check("port", stays, "look for a reset, a crash or a loose plug", 12),
    Check(
        "frames",
        frames,
        "look for a slow line, bytes overwritten, the checksum; for values if malformed",
        4,
    ),
    Check("status", status, "send a Status at least every 250 ms, streaming or not", 7),
    Check("losses", losses, "lower the rate or the number of channels, or use a faster line", 2),
)
