"""firmware_protocol/crc.py against the catalogued check value and a bitwise implementation."""

from random import Random

from firmware_protocol.crc import RESIDUE, crc32
from tests.firmware_protocol import independent


def test_the_check_value_is_that_of_the_catalogue() -> None:
    # G. Cook, Catalogue of parametrised CRC algorithms, CRC-32/ISO-HDLC (from memory).
    assert crc32(b"123456789") == 0xCBF43926


def test_a_bitwise_implementation_agrees() -> None:
    draw = Random(1)
    for length in (0, 1, 2, 3, 100, 1020):
        data = draw.randbytes(length)
        assert crc32(data) == independent.crc32(data)


def test_the_residue_is_what_any_bytes_with_their_own_checksum_give_and_nothing_else() -> None:
    draw = Random(2)
    for length in range(40):
        data = draw.randbytes(length)
        checked = data + crc32(data).to_bytes(4, "little")
        assert crc32(checked) == RESIDUE
        spoilt = bytearray(checked)
        spoilt[draw.randrange(len(spoilt))] ^= 1 << draw.randrange(8)
        assert crc32(bytes(spoilt)) != RESIDUE
