"""FLAC of waveforms: whole numbers of the board's own steps, without loss, with scale, unit and gaps in its comment.

Of each channel: value = scale * number + offset, in its unit; read as parts of full scale, from -1 to 1, value =
full_scale * part + offset. The comment is JSON. FLAC knows no gap: where no sample
came the numbers are 0, and `gaps` says where: (first sample, samples in the file, samples that did not come).
"""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

from server.export.format import Column, Export, ExportError, Waves

CHANNELS_MAX = 8  # of the format, RFC 9639 section 5
RATE_MAX_HZ = 655_350  # of the library; the format ends at 1 048 575
GAPS_MAX = 10_000  # that the comment lists; then it says how many more there are
_STEPS_16, _STEPS_24 = 1 << 15, 1 << 23


def write_waveforms(waves: Waves, path: Path) -> None:
    """Plays the run twice: what stands before the samples must know the gaps. Raises ExportError."""
    import soundfile

    if len(waves.columns) > CHANNELS_MAX:
        raise ExportError(f"FLAC holds {CHANNELS_MAX} channels and there are {len(waves.columns)}; take npz or parquet")
    rate_hz = round(waves.rate_hz)
    if not 1 <= rate_hz <= RATE_MAX_HZ:
        raise ExportError(
            f"FLAC holds 1 to {RATE_MAX_HZ} samples a second and there are {rate_hz}; take npz or parquet"
        )
    scales = [_scale(each) for each in waves.columns]
    wide = any(steps > _STEPS_16 for _, _, steps in scales)
    most = _STEPS_24 if wide else _STEPS_16
    comment = {**waves.about, "rate_hz": waves.rate_hz, **_account(waves)}
    comment["channels"] = [
        {"name": each.name, "unit": each.unit, "place": each.place, **_told(scale, offset, most)}
        for each, (scale, offset, _) in zip(waves.columns, scales, strict=True)
    ]
    how = {"samplerate": rate_hz, "channels": len(waves.columns), "format": "FLAC"}
    with soundfile.SoundFile(path, "w", subtype="PCM_24" if wide else "PCM_16", **how) as file:
        file.comment = json.dumps(comment, ensure_ascii=False)
        for values in _values(waves):
            numbers = np.zeros(values.shape, np.int32)
            for k, (scale, offset, _) in enumerate(scales):
                steps = np.rint((values[:, k] - offset) / scale)
                numbers[:, k] = np.clip(np.nan_to_num(steps), -most, most - 1)
            file.write(numbers << 8 if wide else numbers.astype(np.int16))


def _values(waves: Waves) -> Iterator[Any]:
    return (rows.values for rows in waves.rows())


def _scale(column: Column) -> tuple[float, float, int]:
    """Scale, offset and how many steps to each side: in the middle of the range lies the number 0."""
    span = column.high - column.low
    step = column.step if column.step > 0.0 and span / column.step < _STEPS_24 else span / _STEPS_16 or 1.0
    middle = round(0.5 * span / step)
    return step, column.low + step * middle, middle + 1


def _told(scale: float, offset: float, most: int) -> dict[str, float]:
    return {"scale": scale, "offset": offset, "full_scale": scale * most}


def _account(waves: Waves) -> dict[str, Any]:
    """Where no samples came and where they were clipped, from a first playing."""
    gaps: list[list[int]] = []
    more = at = clipped = 0
    for rows in waves.rows():
        lacking = rows.missing > 0
        edges = np.flatnonzero(np.diff(lacking, prepend=False, append=False))
        for since, to in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
            gap = [at + since, to - since, int(rows.missing[since:to].sum())]
            if gaps and gaps[-1][0] + gaps[-1][1] == gap[0]:
                gaps[-1][1:] = [gaps[-1][1] + gap[1], gaps[-1][2] + gap[2]]
            elif len(gaps) < GAPS_MAX:
                gaps.append(gap)
            else:
                more += 1
        clipped += 0 if rows.clipped is None else int(rows.clipped.any(axis=1).sum())
        at += rows.missing.size
    return {"samples": at, "gaps": gaps, "gaps_not_listed": more, "clipped_samples": clipped}


FLAC = Export(
    *("flac", "FLAC, waveforms without loss", ".flac", "audio/flac"),
    waveforms=write_waveforms,
    plays=2,
)
