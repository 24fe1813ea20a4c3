"""What encrypts the traffic on the bench network: a person's certificate, or one that the service makes for itself.

Ours is self-signed, so a browser warns of it once: the person compares the fingerprint that stands on the PC. It is
made anew when the address is another one, when it is about to end, or when others could have read its key.
"""

import ssl
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from ipaddress import ip_address
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from server.access.entrance import Address, host_of
from server.data_folder import is_private, secret_folder
from server.whole_file import replace_file

VALID = timedelta(days=5 * 365)
RENEWED = timedelta(days=30)  # before its end
_BACK = timedelta(days=1)  # a phone's clock may be late


class CertificateError(Exception):
    """The certificate cannot be used; the sentence says why and what to do."""


@dataclass(frozen=True, slots=True)
class Encryption:
    """How to speak TLS. `names`: of computers, as the certificate says them; `fingerprint`: SHA-256 in pairs."""

    context: ssl.SSLContext
    fingerprint: str
    names: tuple[str, ...]


def own_encryption(data: Path, address: Address, now: datetime | None = None) -> Encryption:
    """With the certificate of this data folder, made if it must be. Raises DataFolderError, CertificateError."""
    folder = secret_folder(data)
    certificate, key = folder / "bench-certificate.pem", folder / "bench-key.pem"
    try:
        if not _is_usable(certificate, key, address, now or datetime.now(UTC)):
            made, its_key = make_certificate(address, now or datetime.now(UTC))
            replace_file(key, its_key, private=True)
            replace_file(certificate, made, private=True)
    except OSError as error:
        raise CertificateError(
            f"{folder} cannot be written ({error.strerror}); choose another with --data DIR"
        ) from error
    return given_encryption(certificate, key)


def given_encryption(certificate: Path, key: Path) -> Encryption:
    """With these files (PEM). Raises CertificateError."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    context.set_alpn_protocols(["http/1.1"])
    try:
        leaf = x509.load_pem_x509_certificate(certificate.read_bytes())
        context.load_cert_chain(certificate, key, password=_no_password)
        names = _names(leaf)
    except ssl.SSLError as error:
        why = f"{key} is no key (PEM) for {certificate}, or has a password ({error.reason or 'not readable'})"
        raise CertificateError(f"{why}; give both with --certificate and --key") from error
    except OSError as error:
        raise CertificateError(f"{error.filename or certificate} cannot be read ({error.strerror})") from error
    except ValueError as error:
        raise CertificateError(f"{certificate} holds no certificate that can be read (PEM)") from error
    if leaf.not_valid_after_utc < datetime.now(UTC):
        ended = f"{leaf.not_valid_after_utc:%Y-%m-%d}"
        raise CertificateError(f"{certificate} ended on {ended}; give a newer one, or leave it out and one is made")
    return Encryption(context, fingerprint_of(leaf), names)


def make_certificate(address: Address, now: datetime) -> tuple[bytes, bytes]:
    """A self-signed certificate for this address, and its key; both PEM. P-256 with SHA-256 (RFC 5480, RFC 5280)."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, f"Slipring at {address}")])
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - _BACK)
        .not_valid_after(now + VALID)
        .add_extension(x509.SubjectAlternativeName([x509.IPAddress(address)]), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .sign(key, hashes.SHA256())
    )
    return made.public_bytes(serialization.Encoding.PEM), key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )


def fingerprint_of(certificate: x509.Certificate) -> str:
    """SHA-256 of the whole certificate, as browsers show it: 32 pairs of hexadecimal digits."""
    return certificate.fingerprint(hashes.SHA256()).hex(":").upper()


def _is_usable(certificate: Path, key: Path, address: Address, now: datetime) -> bool:
    """Raises OSError."""
    if not (certificate.exists() and key.exists() and is_private(key)):
        return False
    try:
        leaf = x509.load_pem_x509_certificate(certificate.read_bytes())
        addresses = leaf.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
        own = serialization.load_pem_private_key(key.read_bytes(), None).public_key()
    except (ValueError, TypeError, x509.ExtensionNotFound):
        return False
    fits = address in addresses.get_values_for_type(x509.IPAddress) and own == leaf.public_key()
    return fits and leaf.not_valid_before_utc <= now < leaf.not_valid_after_utc - RENEWED


def _names(leaf: x509.Certificate) -> tuple[str, ...]:
    """Names and addresses that it is for, as in a Host header; no patterns."""
    try:
        said = leaf.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    except x509.ExtensionNotFound:
        return ()
    names = [name.lower() for name in said.get_values_for_type(x509.DNSName) if "*" not in name]
    return (*names, *(host_of(ip_address(str(each))) for each in said.get_values_for_type(x509.IPAddress)))


def _no_password() -> str:
    return ""  # otherwise the terminal would be asked
