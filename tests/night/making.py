"""Makes a night, or goes on with one that was interrupted, and measures the service meanwhile."""

import json
import os
import time
import urllib.request
from collections.abc import Callable
from pathlib import Path
from typing import Any

from server.data_folder import token_file
from tests.night.bench import RIG, Bench
from tests.night.plan import Happening, plan
from tests.night.truth import Journal, lines

BEGIN_S = 1000.0  # bench time at which a night begins
CLOCK_BACK_S = -3600.0
MEASURED_S = 1800.0  # a look at memory and handles so often, and at least so many:
LOOKS = 24
# A program that packs beside the service is three pipes: a look waits for its end, in steps, and then no longer.
STEP_S, PACKS_MAX_S = 10.0, 600.0
_PAGE_BYTES = os.sysconf("SC_PAGE_SIZE")


def make(folder: Path, seed: int, hours: float, say: Callable[[str], None]) -> None:
    """A night in `folder`, whole when the journal's last line is `over`. RuntimeError: the service gave out."""
    file = folder / "journal.jsonl"
    told = lines(file) if file.exists() else []
    if told and told[-1]["kind"] == "over":
        return
    journal = Journal(file)
    if not told:
        journal.write("begin", BEGIN_S, wall_s=time.time() - BEGIN_S, boot=1)
    begun = (told or lines(file))[0]
    at_s, boot = begun["at_s"], begun["boot"]
    done = sum(line["kind"] == "did" for line in told)
    if told:  # whatever was under way is lost with the board's own state: it starts anew, and so does the service
        at_s = told[-1]["at_s"]
        boot = max((line["boot"] for line in told if line["kind"] == "sent"), default=boot) + 1
        say(f"goes on {at_s - BEGIN_S:.0f} s into the night")
        journal.write("interrupted", at_s)
    steps = sum(line["kind"] == "clock" for line in told) * CLOCK_BACK_S
    bench = Bench(folder, seed, journal, at_s, boot, begun["wall_s"] + steps)
    try:
        bench.start_service()
        _Night(bench, journal, hours, say).run(plan(seed, hours)[done:])
        _end(bench, journal)
        bench.stop_service()
        journal.write("over", bench.at_s)
    finally:
        bench.close()


class _Night:
    def __init__(self, bench: Bench, journal: Journal, hours: float, say: Callable[[str], None]) -> None:
        self._bench, self._journal, self._say = bench, journal, say
        self._end_s = BEGIN_S + 3600.0 * hours
        self._every_s = min(MEASURED_S, 3600.0 * hours / LOOKS)
        self._look_s = self._due_s = bench.at_s
        self._began_s = time.monotonic()

    def run(self, happenings: list[Happening]) -> None:
        for happening in happenings:
            self._go_on(BEGIN_S + happening.at_s)
            self._do(happening)
        self._go_on(self._end_s)

    def _go_on(self, until_s: float) -> None:
        while self._bench.at_s < until_s:
            self._bench.go_on(min(until_s, self._look_s))
            if self._bench.at_s >= self._look_s:
                self._measure()

    def _measure(self) -> None:
        bench = self._bench
        assert bench.service is not None
        its = Path("/proc") / str(bench.service.pid)
        children = sum(len(each.read_text().split()) for each in its.glob("task/*/children"))
        if children and bench.at_s < self._due_s + PACKS_MAX_S:
            self._look_s = bench.at_s + STEP_S
            return
        self._look_s = self._due_s = bench.at_s + self._every_s
        resident_mb = int((its / "statm").read_text().split()[1]) * _PAGE_BYTES / 1e6
        handles, threads = len(list((its / "fd").iterdir())), len(list((its / "task").iterdir()))
        told = {"resident_mb": round(resident_mb, 2), "handles": handles, "threads": threads, "children": children}
        self._journal.write("look", bench.at_s, pid=bench.service.pid, **told)
        hours = (bench.at_s - BEGIN_S) / 3600.0
        pace = (bench.at_s - BEGIN_S) / max(time.monotonic() - self._began_s, 1e-3)
        self._say(
            f"{hours:6.2f} h: {resident_mb:.1f} MB, {handles} handles, {threads} threads, {pace:.0f} times as fast"
        )

    def _do(self, its: Happening) -> None:
        bench = self._bench
        told: dict[str, Any] = {"what": its.kind, "runs": bench.calm(), "lasts_s": round(its.lasts_s, 3)}
        told |= {"boot": bench.boot, "from_s": bench.at_s, "mid_frame": its.mid_frame}
        match its.kind:
            case "pull" | "unplug":
                bench.pull(its.lasts_s, its.mid_frame, reset=its.kind == "unplug")
            case "reset":
                bench.reset(its.mid_frame)
            case "damage":
                bench.damage(its.lasts_s)
            case "restart" | "kill":
                bench.stop_service() if its.kind == "restart" else bench.kill_service()
                told["ended_s"] = bench.at_s
                bench.without_service(its.lasts_s)
                bench.start_service()
            case "clock":
                bench.step_wall_clock(CLOCK_BACK_S)
                self._journal.write("clock", bench.at_s)
        self._journal.write("did", bench.at_s, **told)


PUT_AWAY_S = 7200.0  # for packing, the log and the sums of twelve hours, by children of low priority


def _end(bench: Bench, journal: Journal) -> None:
    """The cable is pulled, a person ends the run, and what is done with a closed run is waited for."""
    bench.settle()
    assert bench.line is not None
    bench.line.close()
    bench.line = None
    time.sleep(1.0)
    run = asked(bench, "POST", f"/api/rigs/{RIG}/run", {"action": "end"})["run"]
    (folder,) = [each for each in (bench.data / "runs").iterdir() if each.name == run]
    began_s, packed_s = time.monotonic(), 0.0
    while time.monotonic() < began_s + PUT_AWAY_S:
        plain = list(folder.glob("*.run"))
        packed_s = packed_s or (0.0 if plain else time.monotonic() - began_s)
        if not plain and (folder / "digest.json").exists() and asked(bench, "GET", f"/api/runs/{run}")["account"]:
            break
        time.sleep(1.0)
    took = {"packed_s": round(packed_s, 1), "summed_up_s": round(time.monotonic() - began_s, 1)}
    night = asked(bench, "GET", f"/api/runs/{run}/night")
    alarms = asked(bench, "GET", f"/api/rigs/{RIG}/alarms")
    journal.write("ended", bench.at_s, run=run, night=night, alarms=alarms, **took)


def asked(bench: Bench, method: str, path: str, body: dict[str, Any] | None = None) -> Any:
    """The service's answer, as a script gets it."""
    token = token_file(bench.data).read_text(encoding="ascii").strip()
    headers = {"Authorization": f"Bearer {token}", "Slipring-Request": "1", "Content-Type": "application/json"}
    data = None if body is None else json.dumps(body).encode()
    request = urllib.request.Request(f"http://127.0.0.1:{bench.page_port}{path}", data, headers, method=method)
    with urllib.request.urlopen(request, timeout=60.0) as answer:
        return json.loads(answer.read())
