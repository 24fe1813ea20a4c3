"""Whether a run was thinned is known without reading it, and stays known when a segment of it is repaired."""

from pathlib import Path

import pytest

from server.runs.layout import Numbered
from server.runs.pack import pack_segment
from server.runs.packed_file import PackedFile
from server.runs.packing.whole import Place
from server.runs.repair import repair
from server.runs.thin import thin_segment
from server.runs.thinned_run import is_thinned, thinned_words
from tests.server.runs.recordings import segment_bytes
from tests.server.runs.test_thin import KEPT, NOW_UTC_S, SECONDS, WORDS


@pytest.fixture
def its(tmp_path: Path) -> Path:
    """A packed segment of six blocks, of which two stretches were given up."""
    plain = tmp_path / "20261125-1402-bench" / "0001.run"
    plain.parent.mkdir()
    plain.write_bytes(segment_bytes(SECONDS))
    pack_segment(plain)
    packed = plain.with_name("0001.packed")
    thin_segment(packed, KEPT, WORDS, NOW_UTC_S)
    return packed


def test_whether_a_segment_was_thinned_is_asked_of_the_heads_of_its_blocks_and_once(
    its: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    read, record_at = list[Place](), PackedFile.record_at

    def counted(self: PackedFile, place: Place) -> Numbered | None:
        read.append(place)
        return record_at(self, place)

    monkeypatch.setattr(PackedFile, "record_at", counted)
    assert is_thinned(its.parent)
    assert len(read) == 2
    assert thinned_words(its.parent)
    assert len(read) == 2


def test_a_thinned_segment_that_was_repaired_is_still_known_as_thinned_packed_again_too(its: Path) -> None:
    words, data = thinned_words(its.parent), bytearray(its.read_bytes())
    with its.open("rb") as file:
        index = PackedFile(file).index
    assert index is not None
    data[index.places[0].offset + 100] ^= 1
    its.write_bytes(data)
    repair(its)
    assert thinned_words(its.parent) == words
    pack_segment(its.with_name("0001.run"))
    assert thinned_words(its.parent) == words
    assert thin_segment(its, KEPT, WORDS, NOW_UTC_S) == 0
