"""QEMU with the firmware of the emulated board: started halted, its line a TCP port or a pty, ended by the test."""

import json
import os
import re
import socket
import subprocess
import tempfile
import time
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from tests.firmware_protocol.firmware.window import Window

PATIENCE_S = 20.0


class Emulator:
    """One machine. Its line is at `url`, for one reader, from the beginning; nothing runs before `go`.

    `pty`: a line of 4 KiB instead of a TCP port, which takes a second of samples: a reader who sleeps is felt at once.
    """

    def __init__(self, program: Path, pty: bool = False) -> None:
        self._folder = tempfile.TemporaryDirectory(prefix="slipring-")
        shared = "/dev/shm" if os.access("/dev/shm", os.W_OK) else self._folder.name
        self.window = Window(Path(shared) / f"slipring-window-{os.getpid()}-{time.monotonic_ns()}")
        self._told = Path(self._folder.name) / "qmp"
        self._program, self._pty = program, pty
        self.errors = Path(self._folder.name) / "errors"  # accesses to what is not there
        self._process: subprocess.Popen[bytes] | None = None
        self._socket: socket.socket | None = None

    def __enter__(self) -> Self:
        memory = f"memory-backend-file,id=window,size=16M,mem-path={self.window.path},share=on"
        command = ["qemu-system-arm", "-M", "mps2-an385,memory-backend=window", "-object", memory]
        command += ["-icount", "shift=4,sleep=off", "-display", "none", "-monitor", "none", "-nodefaults", "-S"]
        line = "pty,id=line" if self._pty else "socket,id=line,host=127.0.0.1,port=0,server=on,wait=off"
        command += ["-chardev", line, "-serial", "chardev:line"]
        command += ["-qmp", f"unix:{self._told},server=on,wait=off", "-d", "guest_errors", "-D", str(self.errors)]
        self._process = subprocess.Popen(
            [*command, "-kernel", str(self._program)],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,  # it warns of a network card without a network
        )
        try:
            self._socket = self._connected()
            self._qmp = self._socket.makefile("rwb")
            self._qmp.readline()
            self.tell("qmp_capabilities")
            (open_at,) = (one["filename"] for one in self.tell("query-chardev") if one["label"] == "line")
            port = re.search(r":(\d+),", open_at)
            self.url = f"socket://127.0.0.1:{port[1]}" if port else open_at.removeprefix("pty:")
        except BaseException:
            self.__exit__(None, None, None)
            raise
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._process is not None:
            self._process.kill()
            self._process.wait(10)
        if self._socket is not None:
            self._qmp.close()
            self._socket.close()
        self.window.close()
        self._folder.cleanup()

    def go(self) -> None:
        self.tell("cont")

    def reset(self) -> None:
        """As by the board's own button: registers and program anew, the window as it was."""
        self.tell("system_reset")

    def tell(self, what: str) -> Any:
        self._qmp.write(json.dumps({"execute": what}).encode() + b"\n")
        self._qmp.flush()
        while "return" not in (answer := json.loads(self._qmp.readline())):
            assert "error" not in answer, answer
        return answer["return"]

    def _connected(self) -> socket.socket:
        end_s = time.monotonic() + PATIENCE_S
        while True:
            line = socket.socket(socket.AF_UNIX)
            line.settimeout(PATIENCE_S)
            try:
                line.connect(str(self._told))
                return line
            except OSError:
                line.close()
                assert time.monotonic() < end_s, "the emulator does not answer"
                assert self._process is not None
                assert self._process.poll() is None, "the emulator has ended"
                time.sleep(0.01)
