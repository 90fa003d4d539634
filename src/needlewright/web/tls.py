"""A certificate of the workbench's own making, so that a phone's camera may be used over the air.

No authority vouches for it: a browser warns once and then keeps it. What it buys is an encrypted
line, and that a browser notices when another machine answers under the same address later.
"""

import os
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from ipaddress import ip_address
from pathlib import Path
from typing import Final

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from needlewright.records.trouble import said_plainly

FOLDER: Final = "tls"
KEY: Final = "key.pem"
CERTIFICATE: Final = "certificate.pem"
LASTS: Final = timedelta(days=365)
RENEWED_BEFORE: Final = timedelta(days=30)
BACK: Final = timedelta(hours=24)
"""It counts from the day before: clocks of phones differ."""
ALWAYS_NAMED: Final = ("localhost", "127.0.0.1")
PRIVATE: Final = 0o600


@dataclass(frozen=True, slots=True)
class Certified:
    """A key and its certificate, as files."""

    key: Path
    certificate: Path
    fingerprint: str
    """SHA-256 of the certificate, in pairs of digits, as browsers show it."""
    until: datetime
    is_new: bool
    """Whether it was made just now, so that every browser will warn again."""


def certificate_for(shop_folder: Path, hosts: tuple[str, ...], now: datetime) -> Certified:
    """The shop's certificate; made where there is none, renewed where it no longer serves.

    Parameters
    ----------
    shop_folder
        It is kept in there, readable for its owner alone.
    hosts
        Names and addresses under which this machine is reached.
    now
        The present moment.

    Returns
    -------
    Certified
        Good for 30 more days at least, and for all of these hosts.

    Raises
    ------
    RecordError
        If it cannot be written.
    """
    folder = shop_folder / FOLDER
    named = tuple(dict.fromkeys((*ALWAYS_NAMED, *hosts)))
    kept = _kept(folder, named, now)
    if kept is not None:
        return _certified(folder, kept, is_new=False)
    with said_plainly("making the certificate", folder):
        return _certified(folder, _make(folder, named, now), is_new=True)


def _kept(folder: Path, hosts: tuple[str, ...], now: datetime) -> x509.Certificate | None:
    """The certificate that is there, if it still serves."""
    try:
        certificate = x509.load_pem_x509_certificate((folder / CERTIFICATE).read_bytes())
        key = serialization.load_pem_private_key((folder / KEY).read_bytes(), None)
        names = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    except (OSError, ValueError, TypeError, x509.ExtensionNotFound):
        return None
    serves = (
        key.public_key() == certificate.public_key()
        and certificate.not_valid_before_utc <= now
        and now + RENEWED_BEFORE < certificate.not_valid_after_utc
        and {_general_name(host) for host in hosts} <= set(names)
    )
    return certificate if serves else None


def _make(folder: Path, hosts: tuple[str, ...], now: datetime) -> x509.Certificate:
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Needlewright workbench")])
    certificate = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - BACK)
        .not_valid_after(now + LASTS)
        .add_extension(
            x509.SubjectAlternativeName([_general_name(host) for host in hosts]), critical=False
        )
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .sign(key, hashes.SHA256())
    )
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    pem = serialization.Encoding.PEM
    _write(
        folder / KEY,
        key.private_bytes(pem, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()),
    )
    _write(folder / CERTIFICATE, certificate.public_bytes(pem))
    return certificate


def _write(path: Path, content: bytes) -> None:
    """Whole or not at all, and never readable for others, not even for a moment."""
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        with os.fdopen(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, PRIVATE), "wb") as out:
            out.write(content)
        os.replace(part, path)
    finally:
        part.unlink(missing_ok=True)


def _general_name(host: str) -> x509.GeneralName:
    try:
        return x509.IPAddress(ip_address(host))
    except ValueError:
        return x509.DNSName(host)


def _certified(folder: Path, certificate: x509.Certificate, *, is_new: bool) -> Certified:
    digits = certificate.fingerprint(hashes.SHA256()).hex().upper()
    return Certified(
        key=folder / KEY,
        certificate=folder / CERTIFICATE,
        fingerprint=" ".join(digits[i : i + 2] for i in range(0, len(digits), 2)),
        until=certificate.not_valid_after_utc.astimezone(UTC),
        is_new=is_new,
    )
