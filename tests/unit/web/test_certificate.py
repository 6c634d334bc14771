"""The certificate the app makes for itself: for its names, for a while, its key for its owner alone."""

from __future__ import annotations

import datetime as dt
import hashlib
import socket
import ssl
import threading
from pathlib import Path

import pytest
from cryptography import x509

from carwright.web.certificate import DAYS, certificate_for


def test_it_holds_for_its_names_and_not_for_longer_than_browsers_take(tmp_path: Path) -> None:
    made = certificate_for(["192.0.2.5", "den.local"], tmp_path / "state")
    found = x509.load_pem_x509_certificate(made.certificate.read_bytes())
    names = found.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    assert set(names.get_values_for_type(x509.DNSName)) == {"den.local", "localhost"}
    assert {str(each) for each in names.get_values_for_type(x509.IPAddress)} == {"127.0.0.1", "192.0.2.5", "::1"}
    assert found.not_valid_after_utc - dt.datetime.now(dt.UTC) <= dt.timedelta(days=DAYS)
    assert not found.extensions.get_extension_for_class(x509.BasicConstraints).value.ca
    assert made.key.stat().st_mode & 0o777 == 0o600


def test_it_is_kept_as_long_as_it_holds_for_every_name(tmp_path: Path) -> None:
    first = certificate_for(["192.0.2.5"], tmp_path)
    assert certificate_for([], tmp_path).fingerprint == first.fingerprint
    assert certificate_for(["192.0.2.6"], tmp_path).fingerprint != first.fingerprint


@pytest.mark.parametrize("spoilt", ["certificate", "key", "both"])
def test_one_that_is_damaged_is_made_anew(tmp_path: Path, spoilt: str) -> None:
    first = certificate_for([], tmp_path)
    if spoilt != "key":
        first.certificate.write_bytes(b"no certificate")
    if spoilt != "certificate":
        first.key.unlink()
    assert certificate_for([], tmp_path).fingerprint != first.fingerprint


def test_it_speaks_tls_and_is_what_its_fingerprint_says(tmp_path: Path) -> None:
    made = certificate_for([], tmp_path)
    inside = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    inside.load_cert_chain(made.certificate, made.key)
    heard = socket.create_server(("127.0.0.1", 0))

    def answer() -> None:
        with heard.accept()[0] as plain, inside.wrap_socket(plain, server_side=True) as wrapped:
            wrapped.sendall(b"at the bench")

    thread = threading.Thread(target=answer)
    thread.start()
    outside = ssl.create_default_context(cafile=str(made.certificate))
    with socket.create_connection(heard.getsockname()) as plain:
        wrapped = outside.wrap_socket(plain, server_hostname="127.0.0.1")
        with wrapped:
            assert wrapped.recv(40) == b"at the bench"
            shown = wrapped.getpeercert(binary_form=True) or b""
    thread.join()
    heard.close()
    digest = hashlib.sha256(shown).digest()
    assert digest.hex(":").upper() == made.fingerprint
