"""Why a port could not be opened, in plain words, and what to do about it."""

import errno
import os
import re
from pathlib import Path

import serial
from serial.tools import list_ports

PROC = Path("/proc")


def explain(error: Exception, url: str) -> tuple[str, str, str]:
    """State (`no_board` or `refused`), what is the matter, what to do now."""
    if url.startswith("socket://"):
        return _explain_socket(error, url)
    number = _number(error)
    if number in (errno.ENOENT, errno.ENODEV, errno.ENXIO):
        return "no_board", f"There is no port {url}", f"Plug the board in. {ports_sentence()}"
    if number in (errno.EACCES, errno.EPERM):
        return "refused", f"You have no permission to open {url}", permission_way_out(url)
    if number in (errno.EBUSY, errno.EAGAIN):
        return "refused", f"{url} is in use by {holder(url)}", "Close it there."
    if isinstance(error, ValueError) and "baud" not in str(error).lower():
        instead = "Write a device such as /dev/ttyACM0, or socket://HOST:PORT."
        return "refused", f'"{url}" is not a port ({error})', instead
    if isinstance(error, ValueError):
        return "refused", f"{url} cannot be set to this baud rate", "Write another baud in the rig's settings."
    if number in (errno.ENOTTY, errno.EISDIR, errno.EINVAL) or "configure" in str(error):
        return "refused", f"{url} is not a serial port", f"Choose another one. {ports_sentence()}"
    return (
        "refused",
        f"{url} could not be opened ({error})",
        "Pull the board out and plug it in again, or choose another port.",
    )


def _explain_socket(error: Exception, url: str) -> tuple[str, str, str]:
    if isinstance(error, ValueError):
        return (
            "refused",
            f'"{url}" is not an address ({error})',
            "Write socket://HOST:PORT, for example socket://127.0.0.1:7000.",
        )
    if isinstance(error, ConnectionRefusedError):
        return (
            "no_board",
            f"Nothing listens at {url}",
            "Start what serves the board there.",
        )
    if isinstance(error, TimeoutError):
        return "no_board", f"{url} does not answer", "Check its network and power."
    return "no_board", f"{url} cannot be reached ({error})", "Check the address and the network."


def _number(error: BaseException) -> int | None:
    """The system's error number; pyserial drops it in places, but keeps the cause."""
    while True:
        if isinstance(error, OSError) and error.errno is not None:
            return error.errno
        if isinstance(error, serial.SerialException) and (found := re.search(r"\[Errno (\d+)\]|^\((\d+),", str(error))):
            return int(found[1] or found[2])
        cause = error.__cause__ or error.__context__
        if cause is None:
            return errno.ENOENT if "FileNotFoundError" in str(error) else None  # as Windows says it, inside the text
        error = cause


def ports_sentence() -> str:
    """Which serial ports this PC has, as one sentence."""
    names = sorted(port.device for port in list_ports.comports())
    return f"Ports found here: {', '.join(names)}." if names else "No serial port was found on this PC."


def permission_way_out(device: str) -> str:
    """The group to join, with the exact command; or why joining does not help."""
    try:
        import grp  # not there on Windows
        import pwd

        about = os.stat(device)
        group = grp.getgrgid(about.st_gid)
        user = pwd.getpwuid(os.getuid()).pw_name
    except (ImportError, OSError, KeyError):
        return "Ask who looks after this PC for the right to use serial ports."
    if about.st_mode & 0o060 != 0o060 or group.gr_name == "root":
        return f"Its group {group.gr_name} may not use it either: ask who looks after this PC for a udev rule."
    if user in group.gr_mem and about.st_gid not in os.getgroups():
        return f"You have joined its group {group.gr_name} since you logged in: log out and in again."
    return f"Its group is {group.gr_name}: run sudo usermod -aG {group.gr_name} $USER, then log out and in again."


def holder(device: str) -> str:
    """Who has the port: by the kernel's list of locks, else by who has it open; "another program" if neither tells."""
    pids = _lock_holders(device) or open_by(device)
    if os.getpid() in pids:
        return "another rig of this service"
    for pid in pids:
        try:
            name = (PROC / str(pid) / "comm").read_text().strip()
        except OSError:
            continue
        return f"{name} (process {pid})"
    return "another program"


def _lock_holders(device: str) -> list[int]:
    try:
        about = os.stat(device)
        lines = (PROC / "locks").read_text().splitlines()
    except OSError:
        return []
    place = f"{os.major(about.st_dev):02x}:{os.minor(about.st_dev):02x}:{about.st_ino}"
    fields = [line.split() for line in lines]
    return [int(parts[4]) for parts in fields if len(parts) > 5 and parts[5] == place and parts[4].isdigit()]


def open_by(device: str) -> list[int]:
    """Processes that have the device open, as far as they are ours to see."""
    wanted = os.path.realpath(device)
    pids = []
    for folder in PROC.glob("[0-9]*/fd"):
        try:
            names = [os.readlink(entry) for entry in folder.iterdir()]
        except OSError:  # gone, or not ours to see
            continue
        if wanted in names:
            pids.append(int(folder.parent.name))
    return pids
