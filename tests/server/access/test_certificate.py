"""The certificate for the bench network: what is made, when it is made anew, and what a person may give instead."""

import hashlib
import os
import ssl
import stat
import subprocess
from datetime import UTC, datetime, timedelta
from ipaddress import ip_address
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric import ec

from server.access.certificate import CertificateError, given_encryption, make_certificate, own_encryption

ADDRESS = ip_address("192.168.10.2")
NOW = datetime.now(UTC)


def test_what_is_made_is_the_owners_alone_and_holds_the_address(tmp_path: Path) -> None:
    before = os.umask(0)
    try:
        encryption = own_encryption(tmp_path / "data", ADDRESS)
    finally:
        os.umask(before)
    folder = tmp_path / "data" / "secret"
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    assert {stat.S_IMODE(path.stat().st_mode) for path in folder.iterdir()} == {0o600}
    certificate = x509.load_pem_x509_certificate((folder / "bench-certificate.pem").read_bytes())
    names = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    assert names.get_values_for_type(x509.IPAddress) == [ADDRESS]
    key = certificate.public_key()
    assert isinstance(key, ec.EllipticCurvePublicKey)
    assert key.key_size == 256
    assert encryption.names == ("192.168.10.2",)
    assert encryption.context.minimum_version == ssl.TLSVersion.TLSv1_2


def test_the_fingerprint_is_that_of_the_library_and_of_the_other_tool(tmp_path: Path) -> None:
    """Against hashlib over the DER, which is how browsers make it, and against OpenSSL's own program where it is."""
    fingerprint = own_encryption(tmp_path, ADDRESS).fingerprint
    pem = (tmp_path / "secret" / "bench-certificate.pem").read_text()
    der = ssl.PEM_cert_to_DER_cert(pem)
    assert fingerprint.replace(":", "").lower() == hashlib.sha256(der).hexdigest()
    command = ["openssl", "x509", "-noout", "-fingerprint", "-sha256"]
    try:
        said = subprocess.run(command, input=pem, capture_output=True, text=True, check=True).stdout
    except FileNotFoundError:
        return
    assert said.strip().rpartition("=")[2] == fingerprint


def test_it_stays_the_same_from_start_to_start(tmp_path: Path) -> None:
    assert own_encryption(tmp_path, ADDRESS).fingerprint == own_encryption(tmp_path, ADDRESS).fingerprint


def test_another_address_another_certificate(tmp_path: Path) -> None:
    first = own_encryption(tmp_path, ADDRESS).fingerprint
    assert own_encryption(tmp_path, ip_address("fd00::2")).fingerprint != first


def test_it_is_made_anew_before_it_ends(tmp_path: Path) -> None:
    first = own_encryption(tmp_path, ADDRESS).fingerprint
    assert own_encryption(tmp_path, ADDRESS, NOW + timedelta(days=5 * 365 - 40)).fingerprint == first
    assert own_encryption(tmp_path, ADDRESS, NOW + timedelta(days=5 * 365 - 20)).fingerprint != first


@pytest.mark.parametrize("harm", ["others can read the key", "no key", "another key", "rubbish", "no certificate"])
def test_it_is_made_anew_where_it_cannot_be_trusted(tmp_path: Path, harm: str) -> None:
    first = own_encryption(tmp_path, ADDRESS).fingerprint
    key, certificate = tmp_path / "secret" / "bench-key.pem", tmp_path / "secret" / "bench-certificate.pem"
    if harm == "others can read the key":
        key.chmod(0o640)
    elif harm == "no key":
        key.unlink()
    elif harm == "another key":
        key.write_bytes(make_certificate(ADDRESS, NOW)[1])
    elif harm == "rubbish":
        certificate.write_bytes(b"-----BEGIN CERTIFICATE-----\nrubbish\n-----END CERTIFICATE-----\n")
    else:
        certificate.unlink()
    second = own_encryption(tmp_path, ADDRESS).fingerprint
    assert second != first
    assert stat.S_IMODE(key.stat().st_mode) == 0o600
    assert own_encryption(tmp_path, ADDRESS).fingerprint == second


def given(folder: Path, now: datetime = NOW) -> tuple[Path, Path]:
    certificate, key = folder / "bench.crt", folder / "bench.key"
    made, its_key = make_certificate(ADDRESS, now)
    certificate.write_bytes(made)
    key.write_bytes(its_key)
    return certificate, key


def test_a_persons_own_certificate_is_used_as_it_is(tmp_path: Path) -> None:
    certificate, key = given(tmp_path)
    encryption = given_encryption(certificate, key)
    assert (
        encryption.fingerprint.replace(":", "").lower()
        in hashlib.sha256(ssl.PEM_cert_to_DER_cert(certificate.read_text())).hexdigest()
    )


def test_what_cannot_be_used_is_told_with_what_to_do(tmp_path: Path) -> None:
    certificate, key = given(tmp_path)
    (tmp_path / "other").mkdir()
    _, other_key = given(tmp_path / "other")
    locked = tmp_path / "locked.key"
    locked.write_bytes(
        ec.generate_private_key(ec.SECP256R1()).private_bytes(
            serialization.Encoding.PEM,
            serialization.PrivateFormat.PKCS8,
            serialization.BestAvailableEncryption(b"secret"),
        )
    )
    rubbish = tmp_path / "rubbish"
    rubbish.write_text("rubbish")
    (tmp_path / "old").mkdir()
    old = given(tmp_path / "old", NOW - timedelta(days=3000))
    for files, sentence in (
        ((certificate, other_key), "is no key .PEM. for .*; give both with --certificate and --key"),
        ((certificate, locked), "or has a password"),
        ((certificate, rubbish), "is no key"),
        ((rubbish, key), "holds no certificate that can be read"),
        ((tmp_path / "none", key), r"none cannot be read \(No such file"),
        ((certificate, tmp_path / "none"), r"cannot be read \(No such file"),
        (old, "ended on 20"),
    ):
        with pytest.raises(CertificateError, match=sentence):
            given_encryption(*files)
