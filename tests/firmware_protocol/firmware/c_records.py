"""The core's records for ctypes, field for field as its headers have them; `check_sizes` asks the compiler."""

from ctypes import (
    CDLL,
    POINTER,
    Structure,
    c_bool,
    c_char_p,
    c_double,
    c_float,
    c_int32,
    c_uint8,
    c_uint16,
    c_uint32,
    sizeof,
)


class CTick(Structure):
    """A count of 48 bits, in two parts."""

    _fields_ = (("low", c_uint32), ("high", c_uint16))


def c_tick(tick: int) -> CTick:
    return CTick(tick & 0xFFFFFFFF, tick >> 32)


class CExtra(Structure):
    _fields_ = (("bytes", c_char_p), ("count", c_uint16))


class CIdentity(Structure):
    _fields_ = (
        ("tick_hz", c_uint32),
        ("channels", c_uint8),
        ("inputs", c_uint8),
        ("serial", c_char_p),
        ("model", c_char_p),
        ("firmware", c_char_p),
        ("source", c_char_p),
        ("clock_tolerance_ppm", c_float),
        ("plate", c_char_p),
        ("given", c_uint32),
        ("extra", CExtra),
    )


class CChannel(Structure):
    _fields_ = (
        ("role", c_uint8),
        ("name", c_char_p),
        ("place", c_char_p),
        ("unit", c_char_p),
        ("scale", c_double),
        ("offset", c_double),
        ("code_low", c_int32),
        ("code_high", c_int32),
        ("group", c_uint8),
        ("ticks_per_sample", c_uint32),
        ("ticks_divisor", c_uint32),
        ("interval_ticks_max", CTick),
        ("kind", c_uint8),
        ("kind_ticks", c_uint32),
        ("delay_ns", c_int32),
        ("delay_limit_ns", c_uint32),
        ("noise_codes_rms", c_float),
        ("gain_limit", c_float),
        ("offset_limit_codes", c_float),
        ("corner_low_hz", c_float),
        ("corner_high_hz", c_float),
        ("word", c_uint8),
        ("given", c_uint32),
        ("extra", CExtra),
    )


class CInput(Structure):
    _fields_ = (
        ("kind", c_uint8),
        ("name", c_char_p),
        ("bit", c_uint8),
        ("pulses_per_turn", c_uint32),
        ("delay_ns", c_int32),
        ("delay_limit_ns", c_uint32),
        ("look_ticks", c_uint32),
        ("given", c_uint32),
        ("extra", CExtra),
    )


class CDescription(Structure):
    _fields_ = (("identity", POINTER(CIdentity)), ("channels", POINTER(CChannel)), ("inputs", POINTER(CInput)))


class CSingle(Structure):
    _fields_ = (("channel", c_uint8), ("number", c_uint32), ("tick", CTick), ("code", c_int32))


class CCount(Structure):
    _fields_ = (("input", c_uint8), ("count", c_uint32), ("tick", CTick))


class CStatus(Structure):
    _fields_ = (
        ("tick", CTick),
        ("streaming", c_bool),
        ("levels", c_uint8),
        ("dropped_blocks", c_uint32),
        ("overruns", c_uint32),
        ("lost_edges", c_uint32),
        ("temperature_known", c_bool),
        ("supply_known", c_bool),
        ("temperature_c", c_float),
        ("supply_v", c_float),
        ("extra", c_char_p),
        ("extra_bytes", c_uint16),
    )


class CRequest(Structure):
    _fields_ = (("major", c_uint8), ("minor", c_uint8), ("token", c_uint8 * 8), ("received_tick", CTick))


class CGroup(Structure):
    _fields_ = (
        ("channels", c_uint8),
        ("word", c_uint8),
        ("sets_in_block", c_uint16),
        ("ticks_per_sample", c_uint32),
        ("ticks_divisor", c_uint32),
    )


class CSetup(Structure):
    _fields_ = (
        ("description", POINTER(CDescription)),
        ("groups", POINTER(CGroup)),
        ("group_count", c_uint8),
        ("counter_count", c_uint8),
        ("outbox_bytes", c_uint16),
        ("inbox_bytes", c_uint8),
        ("edge_count", c_uint8),
        ("levels", c_uint8),
        ("boot", c_uint32),
        ("streaming", c_bool),
    )


_RECORDS = (
    CExtra, CIdentity, CChannel, CInput, CDescription, CSingle, CCount, CStatus, CRequest, CGroup, CSetup,
)  # fmt: skip


def check_sizes(library: CDLL) -> None:
    """Raises AssertionError if a record here is not the one of the library."""
    for number, record in enumerate(_RECORDS):
        assert library.host_size(number) == sizeof(record), record.__name__
