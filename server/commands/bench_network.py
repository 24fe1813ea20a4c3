"""What `serve --bench-network` needs: an address of this PC that others reach, its socket, and what encrypts it."""

import socket
from argparse import Namespace
from contextlib import suppress
from dataclasses import dataclass
from ipaddress import IPv6Address, ip_address
from pathlib import Path
from typing import TYPE_CHECKING

from server.access.entrance import Address, Bench, host_of
from server.commands.listen import listen_at
from server.commands.streams import say
from server.commands.supervised import is_supervised

if TYPE_CHECKING:
    from server.access.certificate import Encryption

NOT_ENCRYPTED = "NOT ENCRYPTED: whoever is on that network can read along and take a paired device's place."


class BenchNetworkError(Exception):
    """The service cannot be opened to this network; the sentence says what to write instead."""


@dataclass(frozen=True)
class BenchListening:
    """Where other devices come in. `encryption`: None where the person wants none."""

    bench: Bench
    socket: socket.socket
    encryption: "Encryption | None"


def check_options(chosen: Namespace) -> None:
    """What can be refused before anything starts. Raises BenchNetworkError."""
    if not chosen.bench_network:
        given = [name for name in ("certificate", "key", "not_encrypted") if getattr(chosen, name)]
        if given:
            raise BenchNetworkError(f"--{given[0].replace('_', '-')} says how; give --bench-network ADDRESS with it")
        return
    address_of(chosen.bench_network)
    if bool(chosen.certificate) != bool(chosen.key):
        raise BenchNetworkError("--certificate and --key belong together: give both, or none and one is made")
    if chosen.not_encrypted and chosen.certificate:
        raise BenchNetworkError("--not-encrypted uses no certificate: leave one of the two away")


def address_of(text: str) -> Address:
    """One address of this PC. Raises BenchNetworkError."""
    try:
        address = ip_address(text)
    except ValueError:
        raise BenchNetworkError(
            f'"{text}" is no address; write the one that this PC has on the bench network, such as 192.168.10.2'
        ) from None
    if address.is_unspecified:
        raise BenchNetworkError(f"{text} is every network of this PC; write the one address of the bench network")
    if address.is_loopback:
        raise BenchNetworkError(f"{text} is this PC itself, which is served anyway; write its address on the network")
    if address.is_multicast or (isinstance(address, IPv6Address) and address.is_link_local):
        raise BenchNetworkError(f"{text} is no address that a browser can open; write another one of this PC")
    return address


def open_bench(chosen: Namespace, data: Path, port: int) -> BenchListening:
    """Listen there, with the certificate that there is to be.

    Raises BenchNetworkError, PortBusyError, DataFolderError.
    """
    address = address_of(chosen.bench_network)
    encryption = None if chosen.not_encrypted else _encryption(chosen, data, address)
    listening = _listening(address, port)
    names = (host_of(address), *(encryption.names if encryption else ()))
    fingerprint = encryption.fingerprint if encryption else ""
    return BenchListening(Bench(tuple(dict.fromkeys(names)), str(address), port, fingerprint), listening, encryption)


def _listening(address: Address, port: int) -> socket.socket:
    """At that address. Who starts with the PC may be there before its network is, and records without it: a service
    that is supervised awaits the address."""
    family = socket.AF_INET6 if isinstance(address, IPv6Address) else socket.AF_INET
    try:
        return listen_at(family, str(address), port)
    except OSError as error:
        why = f"this PC has no address {address} that it can listen at ({error.strerror})"
    if is_supervised():
        with suppress(OSError):
            awaiting = listen_at(family, str(address), port, awaited=True)
            say(f"slipring: {why}; other devices can come in once it has.")
            return awaiting
    raise BenchNetworkError(f"{why}; write one that it has")


def _encryption(chosen: Namespace, data: Path, address: Address) -> "Encryption":
    from server.access.certificate import CertificateError, given_encryption, own_encryption  # takes its time to load

    try:
        if chosen.certificate:
            return given_encryption(Path(chosen.certificate), Path(chosen.key))
        return own_encryption(data, address)
    except CertificateError as error:
        raise BenchNetworkError(str(error)) from None


def words(bench: Bench) -> str:
    """What the terminal says of it."""
    lines = [f"On the bench network: {bench.url}   (pair a device on the Rig screen)"]
    lines.append(f"Its certificate (SHA-256): {bench.fingerprint}" if bench.encrypted else NOT_ENCRYPTED)
    return "\n".join(lines)
