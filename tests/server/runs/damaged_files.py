"""Segments cut at a length and with a bit flipped, plain and packed, read by what reads runs."""

from pathlib import Path
from random import Random

from server.runs.layout import RECORD_OVERHEAD, Entry, packed_name
from server.runs.pack import pack_segment
from server.runs.replay import recorded

PAGE = 4096


def plain_and_packed(run: Path, plain: bytes) -> dict[str, tuple[Path, bytes]]:
    """Where each would lie, and its bytes; nothing lies there."""
    run.mkdir(parents=True, exist_ok=True)
    path = run / "0001.run"
    path.write_bytes(plain)
    pack_segment(path)
    packed = run / packed_name(path.name)
    data = packed.read_bytes()
    packed.unlink()
    return {"plain": (path, plain), "packed": (packed, data)}


def cut_anywhere(run: Path, plain: bytes, every: int) -> int:
    """At each of these lengths what is read is the beginning, and that a part is missing is told; how often not."""
    wrong = 0
    for kind, (path, data) in plain_and_packed(run, plain).items():
        path.write_bytes(data)
        whole = list(recorded(run))
        ends = _ends(whole, data) if kind == "plain" else set()
        for length in (*range(0, len(data), every), *range(len(data) - 40, len(data))):
            path.write_bytes(data[:length])
            said = list(recorded(run))
            there = [each for each in said if isinstance(each, Entry)]
            told = any(isinstance(each, str) for each in said) or length in ends or not length
            wrong += there != whole[: len(there)] or not told
        path.unlink()
    return wrong


def _ends(entries: list[Entry | str], data: bytes) -> set[int]:
    """Lengths at which a plain segment is whole by itself: between two records."""
    size, ends = RECORD_OVERHEAD + int.from_bytes(data[8:12], "little"), set[int]()
    ends.add(size)
    for each in entries:
        assert isinstance(each, Entry)
        size += RECORD_OVERHEAD + len(each.payload)
        ends.add(size)
    return ends


def flipped_everywhere(run: Path, plain: bytes, seed: int) -> dict[str, int]:
    """A bit in each page of the file, one at a time; how many entries the worst cost, plain and packed.

    Raises AssertionError where what is lost is not told or what is read is none of it.
    """
    draw, worst = Random(seed), dict[str, int]()
    for kind, (path, data) in plain_and_packed(run, plain).items():
        path.write_bytes(data)
        whole = list(recorded(run))
        place_of, lost = {each: place for place, each in enumerate(whole)}, list[int]()
        for page in range(0, len(data), PAGE):
            broken = bytearray(data)
            broken[draw.randrange(page, min(page + PAGE, len(data)))] ^= 1 << draw.randrange(8)
            path.write_bytes(broken)
            said = list(recorded(run))
            there = [each for each in said if isinstance(each, Entry)]
            places = [place_of[each] for each in there]
            assert places == sorted(set(places))
            lost.append(len(whole) - len(there))
            assert not lost[-1] or len(said) > len(there), "something is lost and nothing is said"
        worst[kind] = max(lost)
        path.unlink()
    return worst
