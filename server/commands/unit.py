"""`slipring unit`: the systemd unit that keeps the service running on a PC that is always on; --install writes it."""

import os
import sys
from argparse import Namespace
from pathlib import Path

from server.commands.options import serve
from server.commands.streams import say, write
from server.whole_file import replace_file

FILE = Path("/etc/systemd/system/slipring.service")
DATA = "/var/lib/slipring"
# The service keeps the time that it begins with, so it begins behind whatever waits for the PC's clock to be right.
# It may do what it needs and no more: serial ports, its own folder, the network (receivers of alarms, the bench).
# A kind of port is allowed only if the kernel knows it when the service starts (systemd.resource-control(5)), so the
# modules of USB are asked for first: else a board that is plugged in for the first time afterwards is refused.
# Two calls stand beside the filter: children of low priority (setpriority), memory of arrays (mbind).
# Code that is made while it runs is forbidden: demo motors do not run in it.
UNIT = """\
[Unit]
Description=Slipring watches the motors of a bench
After=network.target time-sync.target
Wants=modprobe@cdc_acm.service modprobe@usbserial.service
After=modprobe@cdc_acm.service modprobe@usbserial.service
StartLimitIntervalSec=0

[Service]
Type=notify
NotifyAccess=main
ExecStart={command}
WatchdogSec=30
Restart=on-failure
RestartSec=2
TimeoutStopSec=10
KillMode=mixed

DynamicUser=yes
StateDirectory=slipring
StateDirectoryMode=0700
UMask=0077
SupplementaryGroups=dialout
DevicePolicy=closed
DeviceAllow=char-ttyACM rw
DeviceAllow=char-ttyUSB rw
DeviceAllow=char-ttyS rw
DeviceAllow=char-ttyAMA rw

CapabilityBoundingSet=
AmbientCapabilities=
NoNewPrivileges=yes
ProtectSystem=strict
ProtectHome=yes
PrivateTmp=yes
PrivateMounts=yes
PrivateUsers=yes
ProtectProc=invisible
ProcSubset=pid
ProtectClock=yes
ProtectHostname=yes
ProtectKernelLogs=yes
ProtectKernelModules=yes
ProtectKernelTunables=yes
ProtectControlGroups=yes
RestrictAddressFamilies=AF_UNIX AF_INET AF_INET6
RestrictNamespaces=yes
RestrictRealtime=yes
RestrictSUIDSGID=yes
RemoveIPC=yes
LockPersonality=yes
MemoryDenyWriteExecute=yes
SystemCallArchitectures=native
SystemCallFilter=@system-service
SystemCallFilter=~@privileged @resources
SystemCallFilter=setpriority mbind
SystemCallErrorNumber=EPERM

[Install]
WantedBy=multi-user.target
"""


def run(chosen: Namespace) -> int:
    serve().parse_args(chosen.serve)  # what the service would not understand is refused now
    program = Path(sys.executable).with_name("slipring")
    text = unit_text(program, chosen.serve)
    if hidden(program):
        say(
            f"slipring unit: {program} is in a home folder, which the unit cannot see; install Slipring in"
            " /opt/slipring (python3 -m venv /opt/slipring) and ask the one there."
        )
        return 1
    if not chosen.install:
        write(text.encode())
        return 0
    try:
        replace_file(FILE, text.encode())
        FILE.chmod(0o644)
    except OSError as error:
        say(f"slipring unit: {FILE} cannot be written ({error.strerror}); type sudo {program} unit --install.")
        return 1
    say(f"{FILE} is written. Now: sudo systemctl daemon-reload && sudo systemctl enable --now slipring")
    say(f"Then: sudo {program} link --data {DATA}")
    return 0


def unit_text(program: Path, options: list[str]) -> str:
    """The unit that runs this program with these options of `slipring serve`."""
    return UNIT.format(command=" ".join(map(_quoted, [str(program), "serve", "--data", DATA, *options])))


def hidden(program: Path) -> bool:
    """Whether the service could not see the program, as its unit hides all home folders."""
    homes = ("/home", "/root", "/run/user")
    return any(os.path.commonpath([home, program.absolute()]) == home for home in homes)


def _quoted(word: str) -> str:
    """A word of a command line (systemd.service(5), from memory)."""
    plain = word.replace("\\", "\\\\").replace('"', '\\"').replace("%", "%%").replace("$", "$$")
    return f'"{plain}"' if plain != word or not word or set(word) & set(" \t'*;") else word
