"""Board to PC: what one analogue channel measures, and how its codes become SI units.

What no channel can be is refused with the field's name on both sides of the wire.
"""

from dataclasses import dataclass
from enum import IntEnum
from fractions import Fraction
from math import isfinite
from struct import Struct
from typing import ClassVar, Self

from firmware_protocol.blocks import Word
from firmware_protocol.errors import EncodeError, malformed
from firmware_protocol.fields import (
    Fields,
    byte_of,
    delay_bytes,
    delay_of,
    enum_of,
    flag_of,
    float32_bytes,
    float32_of,
    need,
    negative,
    pack_fields,
    ratio_bytes,
    ratio_of,
    refuse,
    required,
    text_of,
    tick_bytes,
    tick_of,
    unpack_fields,
    values_of,
)

_U8, _RANGE, _F64, _KIND, _TICK = (Struct(layout) for layout in ("<B", "<ii", "<d", "<BI", "<6s"))


class Role(IntEnum):
    """What a channel measures."""

    VOLTAGE = 1
    CURRENT = 2
    TEMPERATURE = 3
    SPEED = 4
    POSITION = 5
    COMMAND = 6
    OTHER = 7


class SampleKind(IntEnum):
    """What one sample is."""

    INSTANTANEOUS = 0
    MEAN = 1
    RMS = 2


@dataclass(frozen=True, slots=True)
class ChannelDescription:
    """One analogue channel: what it measures and how its codes become SI units.

    value = scale * code + offset. Codes at or beyond `code_low`, `code_high` are clipped.
    An even channel has `group` and `ticks_per_sample`; an uneven one has `interval_ticks_max`,
    the longest time between two of its samples that the board promises.
    """

    TYPE: ClassVar[int] = 0x02
    index: int
    role: Role
    name: str
    place: str  # where it sits: "supply", "line", "auxiliary", "L1", "U", "dc link" ...
    unit: str
    scale: float
    offset: float
    code_low: int
    code_high: int
    group: int | None = None
    ticks_per_sample: Fraction | None = None
    interval_ticks_max: int | None = None
    kind: SampleKind = SampleKind.INSTANTANEOUS
    kind_ticks: int = 0  # time over which a mean or RMS is taken
    delay_ns: int = 0
    delay_limit_ns: int | None = None
    noise_codes_rms: float | None = None
    gain_limit: float | None = None  # largest relative gain error
    offset_limit_codes: float | None = None
    corner_low_hz: float | None = None
    corner_high_hz: float | None = None
    ac_coupled: bool = False
    word: Word = Word.INT16
    unknown: tuple[tuple[int, bytes], ...] = ()

    def payload(self) -> bytes:
        refuse(self.impossible(), EncodeError)
        fields: Fields = [(1, bytes((self.role,))), (2, self.name.encode()), (3, self.place.encode())]
        fields += [(4, self.unit.encode()), (5, _F64.pack(self.scale)), (6, _F64.pack(self.offset))]
        fields += [(7, _RANGE.pack(self.code_low, self.code_high))]
        if self.group is not None and self.ticks_per_sample is not None:
            fields += [(8, bytes((self.group,))), (9, ratio_bytes(self.ticks_per_sample))]
        if self.interval_ticks_max is not None:
            fields += [(10, tick_bytes(self.interval_ticks_max))]
        if self.kind or self.kind_ticks:
            fields += [(11, _KIND.pack(self.kind, self.kind_ticks))]
        fields += [(12, delay_bytes(self.delay_ns, self.delay_limit_ns)), (13, float32_bytes(self.noise_codes_rms))]
        fields += [(14, float32_bytes(self.gain_limit)), (15, float32_bytes(self.offset_limit_codes))]
        fields += [(16, float32_bytes(self.corner_low_hz)), (17, float32_bytes(self.corner_high_hz))]
        fields += [(18, b"\1" if self.ac_coupled else b""), (19, bytes((self.word,)) if self.word else b"")]
        return bytes((self.index,)) + pack_fields([*fields, *self.unknown])

    @classmethod
    def parse(cls, payload: bytes) -> Self:
        need(payload, 1, "channel description")
        what = f"channel {payload[0]}"
        known, unknown = unpack_fields(payload[1:], range(1, 20))
        codes = required(known, 7, _RANGE, f"{what}: code range")
        kind, kind_ticks = values_of(known, 11, _KIND) or (SampleKind.INSTANTANEOUS, 0)
        delay_ns, delay_limit_ns = delay_of(known, 12)
        interval = values_of(known, 10, _TICK)
        described = cls(
            payload[0],
            enum_of(Role, required(known, 1, _U8, f"{what}: role")[0], f"{what}: role"),
            name=text_of(known, 2),
            place=text_of(known, 3),
            unit=text_of(known, 4),
            scale=required(known, 5, _F64, f"{what}: scale")[0],
            offset=required(known, 6, _F64, f"{what}: offset")[0],
            code_low=codes[0],
            code_high=codes[1],
            group=byte_of(known, 8),
            ticks_per_sample=ratio_of(known, 9, f"{what}: ticks per sample"),
            interval_ticks_max=tick_of(interval[0]) if interval else None,
            kind=enum_of(SampleKind, kind, f"{what}: sample kind"),
            kind_ticks=kind_ticks,
            delay_ns=delay_ns,
            delay_limit_ns=delay_limit_ns,
            noise_codes_rms=float32_of(known, 13),
            gain_limit=float32_of(known, 14),
            offset_limit_codes=float32_of(known, 15),
            corner_low_hz=float32_of(known, 16),
            corner_high_hz=float32_of(known, 17),
            ac_coupled=flag_of(known, 18),
            word=enum_of(Word, byte_of(known, 19) or 0, f"{what}: sample word"),
            unknown=unknown,
        )
        refuse(described.impossible(), malformed)
        return described

    def impossible(self) -> str:
        """What no channel can be, in words; empty if there is nothing."""
        what = f"channel {self.index}"
        if self.role is Role.OTHER and not self.name:
            return f"{what}: role other needs a name"
        if not self.code_low < self.code_high:
            return f"{what}: code range {self.code_low} to {self.code_high} is empty"
        end = 1 << (self.word.bits - 1)
        if self.group is not None and not -end <= self.code_low < self.code_high < end:
            return f"{what}: code range {self.code_low} to {self.code_high} does not fit {self.word.bits} bits"
        ends = [self.scale * code + self.offset for code in (self.code_low, self.code_high)]
        if self.scale == 0 or not all(map(isfinite, (self.scale, self.offset, *ends))):
            return f"{what}: scale {self.scale} or offset {self.offset} is impossible"
        even = self.group is not None, self.ticks_per_sample is not None
        if even[0] != even[1] or even[0] == (self.interval_ticks_max is not None):
            return f"{what}: needs either group and ticks per sample or the longest interval"
        if self.ticks_per_sample is not None and self.ticks_per_sample < 1:
            return f"{what}: {self.ticks_per_sample} ticks per sample, at least 1"
        if self.interval_ticks_max == 0:
            return f"{what}: the longest interval is 0"
        low, high = self.corner_low_hz, self.corner_high_hz
        if low is not None and high is not None and low >= high:
            return f"{what}: lower corner {low} Hz is not below the upper corner {high} Hz"
        limits = {"noise": self.noise_codes_rms, "gain limit": self.gain_limit, "offset limit": self.offset_limit_codes}
        return negative(what, {**limits, "lower corner": low, "upper corner": high})
