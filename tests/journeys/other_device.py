"""A second computer for journeys: a network namespace with a wire of its own to this one, and a Chromium inside."""

import base64
import contextlib
import hashlib
import os
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import serialization
from playwright.sync_api import Browser, BrowserType

from tests.conftest import browser_arguments, find_browser

PC, DEVICE = "198.18.77.1", "198.18.77.2"  # of a block for benchmarks (RFC 2544), so nobody's


@contextlib.contextmanager
def wire() -> Iterator[str]:
    """The name of a namespace that reaches this computer at PC, and nothing else. Skips where none may be made."""
    if shutil.which("ip") is None or os.name != "posix" or os.geteuid():
        pytest.skip("a second computer is played by a network namespace, which takes ip and the superuser")
    name = f"slipring-{os.getpid()}"
    here, there = f"sr{os.getpid() % 100_000}a", f"sr{os.getpid() % 100_000}b"
    steps = [
        f"netns add {name}",
        f"link add {here} type veth peer name {there} netns {name}",
        f"addr add {PC}/30 dev {here}",
        f"link set {here} up",
        f"-n {name} addr add {DEVICE}/30 dev {there}",
        f"-n {name} link set {there} up",
        f"-n {name} link set lo up",
    ]
    try:
        for step in steps:
            done = subprocess.run(["ip", *step.split()], capture_output=True, text=True, check=False)
            if done.returncode:
                pytest.skip(f"a network namespace cannot be made here: ip {step}: {done.stderr.strip()}")
        yield name
    finally:
        subprocess.run(["ip", "link", "del", here], capture_output=True, check=False)
        subprocess.run(["ip", "netns", "del", name], capture_output=True, check=False)


@contextlib.contextmanager
def browser_there(kind: BrowserType, namespace: str, folder: Path, certificate: Path | None) -> Iterator[Browser]:
    """A Chromium of the other computer. It trusts this certificate, as a person does who has compared it."""
    found = find_browser(Path(kind.executable_path))
    starter = folder / "browser-there"
    starter.write_text(f'#!/bin/sh\nexec ip netns exec {namespace} {found} "$@"\n')
    starter.chmod(0o700)
    arguments = browser_arguments()
    if certificate is not None:
        key = x509.load_pem_x509_certificate(certificate.read_bytes()).public_key()
        der = key.public_bytes(serialization.Encoding.DER, serialization.PublicFormat.SubjectPublicKeyInfo)
        digest = base64.b64encode(hashlib.sha256(der).digest()).decode()
        arguments.append(f"--ignore-certificate-errors-spki-list={digest}")
    running = kind.launch(executable_path=starter, args=arguments)
    try:
        yield running
    finally:
        running.close()
