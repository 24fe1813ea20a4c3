"""The checksum of what is kept is that of zlib, whichever library makes it."""

import zlib

from hypothesis import given
from hypothesis import strategies as st

from server.runs.crc import crc32


@given(st.binary(max_size=5000), st.binary(max_size=50))
def test_it_is_that_of_zlib_in_one_go_and_in_two(data: bytes, head: bytes) -> None:
    assert crc32(b"123456789") == 0xCBF43926  # check value of CRC-32/ISO-HDLC, Rocksoft catalogue, from memory
    assert crc32(data) == zlib.crc32(data)
    assert crc32(data, crc32(head)) == zlib.crc32(head + data)
    assert crc32(memoryview(data)) == zlib.crc32(data)
