"""A certificate for one session and one address, discarded afterwards; browsers give motion to secure pages only.

No authority has signed it, and a browser warns of that once.
"""

from __future__ import annotations

import ipaddress
import os
import ssl
import tempfile
from datetime import UTC, datetime, timedelta
from pathlib import Path

#: Days that it is valid, one before today for clocks that are wrong.
VALID_DAYS = 2


def make_context(address: str) -> tuple[ssl.SSLContext, str]:
    """Return the TLS context of a server at an address, and both ends of the fingerprint (SHA-256)."""
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes, serialization
    from cryptography.hazmat.primitives.asymmetric import ec

    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, "tempo_coach, this session")])
    now = datetime.now(UTC)
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(days=1))
        .not_valid_after(now + timedelta(days=VALID_DAYS))
        .add_extension(x509.SubjectAlternativeName([x509.IPAddress(ipaddress.ip_address(address))]), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .sign(key, hashes.SHA256())
    )
    pem = made.public_bytes(serialization.Encoding.PEM) + key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    descriptor, path = tempfile.mkstemp(prefix="tempo_coach_")  # the library reads files alone
    try:
        os.write(descriptor, pem)
        context.load_cert_chain(path)
    finally:
        os.close(descriptor)
        Path(path).unlink()
    digest = made.fingerprint(hashes.SHA256()).hex().upper()
    return context, f"{digest[:4]} {digest[4:8]} … {digest[-4:]}"
