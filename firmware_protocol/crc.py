"""The one checksum of the wire: CRC-32 as in IEEE 802.3 and zlib; check value of "123456789" is 0xCBF43926."""

from zlib import crc32

# What CRC-32 gives over any bytes with their own CRC-32, little endian, behind them: a frame is checked in one call.
RESIDUE = 0x2144DF1C

__all__ = ["RESIDUE", "crc32"]
