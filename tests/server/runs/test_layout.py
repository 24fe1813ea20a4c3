"""Entries to records and back, whatever happened to the file."""

from pathlib import Path
from random import Random
from struct import pack
from zlib import crc32

import pytest

from server.runs import layout
from server.runs.layout import (
    RECORD_BYTES_MAX,
    Entry,
    Kind,
    Numbered,
    Records,
    Unreadable,
    is_run_name,
    record,
    run_name,
    segment_name,
    segment_number,
)

ENTRIES = [
    Entry(Kind.CHUNK if k % 5 else Kind.MARK, 1.8e9 + k / 7, Random(k).randbytes(Random(k).randrange(300)))
    for k in range(40)
]
FILE = b"".join(record(number, entry) for number, entry in enumerate(ENTRIES))


def read(data: bytes, cut: int = 1 << 30) -> list[Numbered | Unreadable]:
    records = Records()
    found = [each for at in range(0, len(data), cut) for each in records.feed(data[at : at + cut])]
    return found + list(records.end())


def test_what_was_written_is_read_in_any_cut() -> None:
    for cut in (1, 3, 100, 1 << 30):
        assert read(FILE, cut) == [Numbered(k, entry) for k, entry in enumerate(ENTRIES)]


def test_the_layout_of_a_record_is_that_of_the_document() -> None:
    document = (Path(layout.__file__).parent / "RUN.md").read_text("utf-8")
    example = document.split("```hex\n")[1].split("```")[0]
    assert record(258, Entry(Kind.CHUNK, 1.5, b"ab")) == bytes.fromhex(example)
    for kind in Kind:
        assert f"| {kind.value} | `{kind.name.lower()}` |" in document


def test_a_file_cut_anywhere_loses_only_the_record_that_was_cut() -> None:
    whole = record(0, ENTRIES[0]) + record(1, ENTRIES[1])
    for end in range(len(whole)):
        found = read(whole[:end])
        readable = [each for each in found if isinstance(each, Numbered)]
        assert len(readable) == (end >= len(record(0, ENTRIES[0])))
        assert sum(each.length for each in found if isinstance(each, Unreadable)) == end - sum(
            len(record(each.number, each.entry)) for each in readable
        )


@pytest.mark.parametrize("seed", range(100))
def test_flipped_bits_and_rubbish_cost_the_records_they_hit_and_no_more(seed: int) -> None:
    draw = Random(seed)
    spoilt, hit = bytearray(FILE), set()
    ends = [len(b"".join(record(number, entry) for number, entry in enumerate(ENTRIES[: k + 1]))) for k in range(40)]
    for _ in range(draw.randrange(1, 4)):
        at = draw.randrange(len(spoilt))
        spoilt[at] ^= 1 << draw.randrange(8)
        hit.add(next(k for k, end in enumerate(ends) if at < end))
    found = read(bytes(spoilt), draw.choice((1, 64, 1 << 20)))
    numbers = [each.number for each in found if isinstance(each, Numbered)]
    assert numbers == [k for k in range(40) if k not in hit]
    assert all(each.entry == ENTRIES[each.number] for each in found if isinstance(each, Numbered))


def test_rubbish_before_a_record_is_told_with_its_place() -> None:
    assert read(b"rubbish" + FILE)[:2] == [Unreadable(0, 7), Numbered(0, ENTRIES[0])]


def test_an_entry_of_a_newer_format_is_skipped() -> None:
    newer = bytearray(record(1, Entry(Kind.CLOSE, 0.0, b"x")))
    newer[4] = 99
    newer[-4:] = pack("<I", crc32(bytes(newer[:-4])))
    found = read(record(0, ENTRIES[0]) + bytes(newer) + record(2, ENTRIES[2]))
    assert [each.number for each in found if isinstance(each, Numbered)] == [0, 2]
    assert len(found) == 2


def test_an_entry_that_is_too_long_is_refused() -> None:
    with pytest.raises(ValueError, match="at most"):
        record(0, Entry(Kind.CHUNK, 0.0, bytes(RECORD_BYTES_MAX + 1)))


def test_names_of_runs_and_segments() -> None:
    assert run_name(1_795_615_320.0, "heron-1") == "20261125-1402-heron-1"
    assert run_name(1_795_615_320.0, "heron-1", 2) == "20261125-1402-heron-1-2"
    assert is_run_name("20261125-1402-heron-1")
    assert not is_run_name("../20261125-1402-heron-1")
    assert not is_run_name("catalogue.sqlite")
    assert [segment_number(name) for name in (segment_name(7), "0007.run~", "x.run")] == [7, None, None]


def head(length: int) -> bytes:
    """The head of a record that claims so much payload."""
    return record(0, Entry(Kind.CHUNK, 0.0, b""))[:8] + pack("<IQd", length, 1, 1.8e9)


@pytest.fixture
def summed(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """How many bytes each checksum was computed of."""
    sizes: list[int] = []

    def counted(data: bytes, before: int = 0) -> int:
        sizes.append(len(data))
        return crc32(data, before)

    monkeypatch.setattr("server.runs.layout.crc32", counted)
    return sizes


def test_heads_that_claim_much_cost_little_and_what_is_whole_behind_them_is_found(summed: list[int]) -> None:
    lengths = [1 << 20, 1000, 100_000] * 200
    rubbish = b"".join(map(head, lengths)) + bytes((1 << 20) + 1000)
    found = read(rubbish + FILE, 1 << 20)
    assert [each.number for each in found if isinstance(each, Numbered)] == list(range(40))
    assert sum(summed) < 20 * len(rubbish)  # without a limit: 200


def test_a_small_file_of_heads_with_the_longest_claims_is_read_at_once(summed: list[int]) -> None:
    data = head(RECORD_BYTES_MAX) * 300 + bytes(RECORD_BYTES_MAX)
    assert read(data) == [Unreadable(0, len(data))]
    assert sum(summed) < 16 * len(data)  # without a limit: 300


@pytest.mark.parametrize("seed", range(20))
def test_heads_that_came_to_claim_what_follows_cost_no_other_record(seed: int) -> None:
    """Records as a board of 250 kB/s makes them; of every fourth the length is another, and is one of any size."""
    draw = Random(seed)
    payloads = [draw.randbytes(draw.choice((30, 25_000))) for _ in range(120)]
    whole = [record(k, Entry(Kind.CHUNK, 1.8e9 + k / 10, payload)) for k, payload in enumerate(payloads)]
    hit = {k for k in range(120) if draw.random() < 0.25}
    for k in hit:
        spoilt = bytearray(whole[k])
        spoilt[8:12] = pack("<I", draw.getrandbits(draw.randrange(1, 25)))
        whole[k] = bytes(spoilt)
    found = read(b"".join(whole), 1 << 20)
    assert [each.number for each in found if isinstance(each, Numbered)] == [k for k in range(120) if k not in hit]
