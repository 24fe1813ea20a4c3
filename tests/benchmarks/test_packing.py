"""The small twin of the packing's benchmark: bytes hold as they are; CPU at three times the goal."""

import pytest

from tests.benchmarks import packing

pytestmark = pytest.mark.alone


def test_a_packed_segment_is_near_flac_of_the_bare_samples() -> None:
    rows = packing.measure(1, seconds=10.0, motors=1)
    assert len(rows) == 4
    for row in rows:
        of_bytes = row.at_most == packing.BYTES_AT_MOST
        assert row.ratio <= (row.at_most if of_bytes else 3 * row.at_most), row


def test_what_is_compared_are_the_same_samples() -> None:
    wire = packing.reference_wire(1.0)
    (codes,) = packing.codes_of(wire)
    assert codes.shape == (20_000, 8)
    assert codes.nbytes / 5 < len(packing.flac4(codes)) < codes.nbytes / 2
    assert packing.checked(packing.plain_of(wire, 1.0))
