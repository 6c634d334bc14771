"""A certificate the app makes for itself, so that what crosses the house network is encrypted.

Nobody vouches for it: a browser warns once, and the fingerprint tells whether it is the right one.
"""

from __future__ import annotations

import datetime as dt
import ipaddress
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from carwright.web.guard.hosts import LOOPBACK

DAYS = 397
"""How long one holds [d]: longer ones are refused by browsers (CA/Browser Forum, Baseline Requirements, 6.3.2)."""
_RENEWED = 14
"""Before it ends, a new one is made [d]."""


@dataclass(frozen=True, slots=True)
class Certificate:
    """A certificate and its key as files, and what tells it from any other."""

    certificate: Path
    key: Path
    fingerprint: str


def certificate_for(names: Sequence[str], folder: Path) -> Certificate:
    """The certificate for some names, made where there is none that holds for all of them.

    Parameters
    ----------
    names : sequence of str
        Host names and addresses, besides those of this machine itself.
    folder : Path
        Where it is kept; its key is read by its owner alone.
    """
    wanted = sorted({*names, *LOOPBACK})
    place, key = folder / "web-certificate.pem", folder / "web-certificate-key.pem"
    found = _kept(place, wanted) if key.is_file() else None
    if found is None:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        found = _made(wanted, place, key)
    digest = found.fingerprint(hashes.SHA256()).hex(":").upper()
    return Certificate(place, key, digest)


def _kept(place: Path, wanted: Sequence[str]) -> x509.Certificate | None:
    """The certificate that is there, None where it does not hold for all names or much longer."""
    try:
        found = x509.load_pem_x509_certificate(place.read_bytes())
        names = found.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    except (OSError, ValueError, x509.ExtensionNotFound):
        return None
    held = {*names.get_values_for_type(x509.DNSName), *map(str, names.get_values_for_type(x509.IPAddress))}
    left = found.not_valid_after_utc - dt.datetime.now(dt.UTC)
    return found if set(wanted) <= held and left > dt.timedelta(days=_RENEWED) else None


def _made(wanted: Sequence[str], place: Path, key: Path) -> x509.Certificate:
    secret = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "carwright at the bench")])
    now = dt.datetime.now(dt.UTC)
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(secret.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - dt.timedelta(hours=1))
        .not_valid_after(now + dt.timedelta(days=DAYS))
        .add_extension(x509.SubjectAlternativeName([_general(each) for each in wanted]), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .sign(secret, hashes.SHA256())
    )
    key.touch(mode=0o600, exist_ok=True)
    key.chmod(0o600)
    key.write_bytes(
        secret.private_bytes(
            serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
        )
    )
    place.write_bytes(made.public_bytes(serialization.Encoding.PEM))
    return made


def _general(name: str) -> x509.GeneralName:
    try:
        return x509.IPAddress(ipaddress.ip_address(name))
    except ValueError:
        return x509.DNSName(name)
