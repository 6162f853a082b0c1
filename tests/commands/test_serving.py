"""How the service is served: what the server is told, and what TLS it speaks."""

import ssl
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
import uvicorn
from cryptography import x509
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat
from cryptography.x509.oid import NameOID

from service.commands import serving
from service.settings import Settings


def _certificate(folder: Path) -> tuple[Path, Path]:
    """A certificate that signs itself, and its key."""
    key = Ed25519PrivateKey.generate()
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "custody.test")])
    now = datetime(2026, 7, 1, tzinfo=UTC)
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(1)
        .not_valid_before(now)
        .not_valid_after(now + timedelta(days=1))
        .sign(key, None)
    )
    certificate, secret = folder / "tls.pem", folder / "tls.key"
    certificate.write_bytes(made.public_bytes(Encoding.PEM))
    secret.write_bytes(key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()))
    return certificate, secret


@pytest.fixture
def told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> uvicorn.Config:
    """The configuration of the server, as the command makes it with TLS."""
    found: list[uvicorn.Config] = []

    def kept(app: Any, **said: Any) -> None:
        found.append(uvicorn.Config(app, **said))

    monkeypatch.setattr(uvicorn, "run", kept)
    monkeypatch.setattr(serving.logs, "set_up", lambda _: None)
    monkeypatch.setattr(serving, "create_app", lambda _: None)
    certificate, key = _certificate(tmp_path)
    settings = Settings(_env_file=None, tls_certificate=certificate, tls_key=key)
    serving.run_server(settings, None, None)
    return found[0]


def test_tls_is_of_today_and_keeps_the_past_secret(told: uvicorn.Config) -> None:
    """TLS 1.2 and 1.3, each cipher with authentication and forward secrecy.

    RFC 9325 (2022), sections 3.1.1 and 4.2, from memory.
    """
    told.load()
    context = told.ssl
    assert context is not None
    assert context.minimum_version >= ssl.TLSVersion.TLSv1_2
    assert context.maximum_version == ssl.TLSVersion.MAXIMUM_SUPPORTED
    ciphers = context.get_ciphers()
    assert ciphers
    for cipher in ciphers:
        assert cipher["protocol"] in ("TLSv1.2", "TLSv1.3"), cipher["name"]
        assert cipher["name"].startswith(("TLS_", "ECDHE-", "DHE-")), cipher["name"]
        assert "NULL" not in cipher["name"]
        assert cipher["strength_bits"] >= 128, cipher["name"]


def test_the_server_tells_nothing_of_itself_and_writes_no_address(told: uvicorn.Config) -> None:
    """No name or version; its own lines hold addresses as sent; no proxy is believed unasked."""
    assert not told.server_header
    assert not told.access_log
    assert not told.proxy_headers
    assert not told.reload
    assert told.host == "127.0.0.1"
