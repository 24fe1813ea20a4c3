"""The one checksum of the wire: CRC-32 as in IEEE 802.3 and zlib; check value of "123456789" is 0xCBF43926."""

from zlib import crc32

__all__ = ["crc32"]
