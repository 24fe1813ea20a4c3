"""What befalls the recording, large: power cuts, kills, failing disks, cut files, flipped bits.

`tests/server/runs/test_faults.py` is its twin. Prints a row each; `worst` is the most that one of them cost.
"""

import json
import shutil
from collections.abc import Callable
from dataclasses import asdict, dataclass
from pathlib import Path
from random import Random

from server.runs.layout import Entry
from server.runs.pack import pack_segment, to_pack
from server.runs.replay import recorded
from tests.server.runs.damaged_files import cut_anywhere, flipped_everywhere
from tests.server.runs.failing import Disk
from tests.server.runs.killed import killed, lost_s
from tests.server.runs.power import cut_and_continued
from tests.server.runs.recordings import segment_bytes
from tests.server.runs.test_pack_faults import StoppedDisk
from tests.server.runs.test_writer import STORY, written

POWER_CUTS, KILLS, AT_ONCE = 1000, 200, 20
LOST_S_MAX = 1.0
LONG_S, SHORT_S = 120.0, 1.0


@dataclass(frozen=True, slots=True)
class Row:
    what: str
    tried: int
    wrong: int
    worst: str


def main(state: Path, seed: int) -> int:
    """0 if nothing is wrong. What an interrupted run did is not done again."""
    print(f"{'what':70} {'tried':>6} {'wrong':>6}  worst")
    wrong = 0
    for name, prove in PARTS.items():
        kept = state / f"{name}.json"
        if kept.exists():
            row = Row(**json.loads(kept.read_text()))
        else:
            folder = state / name
            shutil.rmtree(folder, ignore_errors=True)
            folder.mkdir()
            row = prove(folder, seed)
            shutil.rmtree(folder)
            kept.write_text(json.dumps(asdict(row)))
        print(f"{row.what:70} {row.tried:6} {row.wrong:6}  {row.worst}", flush=True)
        wrong += row.wrong
    return 1 if wrong else 0


def _power(folder: Path, seed: int) -> Row:
    wrong, lost = 0, [0]
    for number in range(POWER_CUTS):
        try:
            lost.append(cut_and_continued(folder / str(number), 1_000_000 * seed + number))
        except (AssertionError, ValueError) as error:
            wrong += 1
            print(f"power cut, seed {1_000_000 * seed + number}: {error}")
        shutil.rmtree(folder / str(number), ignore_errors=True)
    told = f"{max(lost)} entries, where the disk had failed since before and this was told"
    return Row("the power is cut; any sectors without a sync are gone", POWER_CUTS, wrong, told)


def _kills(folder: Path, seed: int) -> Row:
    lost, wrong = [0.0], 0
    for batch in range(KILLS // AT_ONCE):
        for one in killed(folder / str(batch), AT_ONCE, 1000 * seed + batch):
            try:
                lost.append(lost_s(one))
            except AssertionError as error:
                wrong += 1
                print(error)
    wrong += sum(each > LOST_S_MAX for each in lost)
    return Row("kill -9 of a recorder at a random moment", KILLS, wrong, f"{max(lost):.2f} s lost")


def _failing(folder: Path, seed: int) -> Row:
    disk = Disk()
    written(folder / "count", disk)
    wrong = 0
    for nth in range(1, disk.count + 1):
        for half in (False, True):
            _, library = written(folder / f"{nth}-{half}", Disk(frozenset([nth]), half))
            kept = [each for run in library.runs() for each in recorded(library.folder / run.name)]
            wrong += [each for each in kept if isinstance(each, Entry)] != STORY
            library.close()
    return Row("the Nth open, write, sync or close of the recorder fails", 2 * disk.count, wrong, "nothing lost")


def _packing(folder: Path, seed: int) -> Row:
    run, plain = folder / "20261125-1402-bench", segment_bytes(LONG_S)
    run.mkdir()
    (run / "0001.run").write_bytes(plain)
    before, disk = list(recorded(run)), StoppedDisk(0, OSError(5, "Input/output error"))
    pack_segment(run / "0001.run", disk)
    wrong = 0
    for nth in range(1, disk.count + 1):
        for path in run.iterdir():
            path.unlink()
        (run / "0001.run").write_bytes(plain)
        try:
            pack_segment(run / "0001.run", StoppedDisk(nth, OSError(5, "Input/output error")))
            wrong += 1  # it was to fail
        except OSError:
            wrong += list(recorded(run)) != before
        for path in to_pack(run, True):
            pack_segment(path)
        wrong += list(recorded(run)) != before
    return Row("the Nth open, write, sync, rename or removal of packing fails", disk.count, wrong, "nothing lost")


def _cut(folder: Path, seed: int) -> Row:
    plain = segment_bytes(SHORT_S)
    wrong = cut_anywhere(folder / "20261125-1402-bench", plain, every=1)
    return Row("a segment cut at each length, plain and packed", len(plain), wrong, "what stood behind")


def _flipped(folder: Path, seed: int) -> Row:
    plain, wrong, told = segment_bytes(LONG_S), 0, ""
    try:
        worst = flipped_everywhere(folder / "20261125-1402-bench", plain, seed)
        told = f"{worst['plain']} chunks of 50 ms plain, {worst['packed']} packed"
    except (AssertionError, KeyError) as error:
        wrong, told = 1, str(error)
    return Row("one bit flipped in each 4 kB, plain and packed", len(plain) // 4096, wrong, told)


def _many_failures(folder: Path, seed: int) -> Row:
    wrong, draw = 0, Random(seed)
    for number in range(POWER_CUTS):
        fail = frozenset(k for k in range(1, 40) if draw.random() < 0.5)
        _, library = written(folder / str(number), Disk(fail, draw.random() < 0.5))
        kept = [each for run in library.runs() for each in recorded(library.folder / run.name)]
        wrong += [each for each in kept if isinstance(each, Entry)] != STORY
        library.close()
        shutil.rmtree(folder / str(number))
    return Row("a disk that fails again and again, and then works", POWER_CUTS, wrong, "nothing lost")


PARTS: dict[str, Callable[[Path, int], Row]] = {
    "failing": _failing,
    "many_failures": _many_failures,
    "packing": _packing,
    "power": _power,
    "kills": _kills,
    "cut": _cut,
    "flipped": _flipped,
}
