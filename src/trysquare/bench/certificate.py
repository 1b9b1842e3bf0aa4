"""The bench's own certificates: an authority made once on this computer, and a certificate for its addresses.

The authority's key never leaves the user's own folder and can only be read by the user. It may speak for
private addresses and local names alone, so that trusting it gives nobody power over anything else.
"""

from __future__ import annotations

import contextlib
import ipaddress
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from trysquare.bench.devices import write_private

AUTHORITY_DAYS = 3650
LEAF_DAYS = 397  # browsers refuse certificates that are good for much longer; from memory
RENEW_DAYS = 30
_PRIVATE = ("10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16", "127.0.0.0/8", "fc00::/7",
            "fe80::/10", "::1/128")  # fmt: skip
_LOCAL_NAMES = ("localhost", "local", "home.arpa", "internal", "lan")


@dataclass(frozen=True, slots=True, kw_only=True)
class Certificates:
    """What a server needs. `chain`, `key`: files; `authority`: PEM to be trusted; `fingerprint`: of it."""

    chain: Path
    key: Path
    authority: bytes
    fingerprint: str


def certificates(home: Path, names: Iterable[str], now: datetime | None = None) -> Certificates:
    """The certificates for these names and addresses, made or renewed where they must be. `home`: a folder of
    the user's own. Raises OSError where it cannot be written."""
    now = now or datetime.now(UTC)
    authority, key = _authority(home, [name for name in names if "." not in name and ":" not in name], now)
    wanted = sorted(name for name in set(names) if _may_speak_for(authority, name))
    chain, leaf_key = home / "bench.pem", home / "bench-key.pem"
    if not _serves(chain, leaf_key, authority, wanted, now):
        _make_leaf(chain, leaf_key, authority, key, wanted, now)
    return Certificates(
        chain=chain,
        key=leaf_key,
        authority=authority.public_bytes(serialization.Encoding.PEM),
        fingerprint=fingerprint(authority),
    )


def fingerprint(certificate: x509.Certificate) -> str:
    """SHA-256 as browsers show it: pairs of digits with colons."""
    digits = certificate.fingerprint(hashes.SHA256()).hex().upper()
    return ":".join(digits[at : at + 2] for at in range(0, len(digits), 2))


def _authority(
    home: Path, bare_names: Sequence[str], now: datetime
) -> tuple[x509.Certificate, ec.EllipticCurvePrivateKey]:
    """Ours if it is there and good for a year yet; else a new one, which devices must trust anew.

    `bare_names`: of this computer; without a dot they are nobody's name but its own.
    """
    file, key_file = home / "authority.pem", home / "authority-key.pem"
    with contextlib.suppress(OSError, ValueError, TypeError):
        known = x509.load_pem_x509_certificate(file.read_bytes())
        key = serialization.load_pem_private_key(key_file.read_bytes(), None)
        same = isinstance(key, ec.EllipticCurvePrivateKey) and key.public_key() == known.public_key()
        if same and known.not_valid_after_utc > now + timedelta(days=LEAF_DAYS):
            assert isinstance(key, ec.EllipticCurvePrivateKey)
            return known, key
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, f"Trysquare bench, made {now:%Y-%m-%d}")])
    made = (
        _begin(name, name, key.public_key(), now, AUTHORITY_DAYS)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usage(signs_certificates=True), critical=True)
        .add_extension(
            _only_local(bare_names), critical=False
        )  # some phones refuse a whole certificate over it
        .sign(key, hashes.SHA256())
    )
    write_private(key_file, _key_bytes(key))
    write_private(file, made.public_bytes(serialization.Encoding.PEM))
    return made, key


def _make_leaf(
    chain: Path,
    key_file: Path,
    authority: x509.Certificate,
    authority_key: ec.EllipticCurvePrivateKey,
    names: Sequence[str],
    now: datetime,
) -> None:
    key = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Trysquare bench")])
    made = (
        _begin(subject, authority.subject, key.public_key(), now, LEAF_DAYS)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(signs_certificates=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.SubjectAlternativeName([_general(name) for name in names]), critical=False)
        .add_extension(
            x509.AuthorityKeyIdentifier.from_issuer_public_key(authority_key.public_key()), critical=False
        )
        .sign(authority_key, hashes.SHA256())
    )
    pem = serialization.Encoding.PEM
    write_private(key_file, _key_bytes(key))
    write_private(chain, made.public_bytes(pem) + authority.public_bytes(pem))


def _begin(
    subject: x509.Name, issuer: x509.Name, key: ec.EllipticCurvePublicKey, now: datetime, days: int
) -> x509.CertificateBuilder:
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(key)
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(days=1))  # a phone's clock may be behind
        .not_valid_after(now + timedelta(days=days))
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key), critical=False)
    )


def _usage(*, signs_certificates: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=True, content_commitment=False, key_encipherment=False, data_encipherment=False,
        key_agreement=False, key_cert_sign=signs_certificates, crl_sign=signs_certificates,
        encipher_only=False, decipher_only=False,
    )  # fmt: skip


def _only_local(bare_names: Iterable[str]) -> x509.NameConstraints:
    """Private addresses, and names that no other computer of the world can have."""
    networks = [x509.IPAddress(ipaddress.ip_network(network)) for network in _PRIVATE]
    names = [x509.DNSName(name) for name in dict.fromkeys((*_LOCAL_NAMES, *bare_names))]
    return x509.NameConstraints(permitted_subtrees=[*networks, *names], excluded_subtrees=None)


def _may_speak_for(authority: x509.Certificate, name: str) -> bool:
    """Whether an authority's certificates may name this. One name that they may not spoils all others."""
    permitted = (
        authority.extensions.get_extension_for_class(x509.NameConstraints).value.permitted_subtrees or ()
    )
    said = _general(name)
    if isinstance(said, x509.IPAddress):
        networks = (
            ipaddress.ip_network(str(each.value)) for each in permitted if isinstance(each, x509.IPAddress)
        )
        return any(ipaddress.ip_address(name) in network for network in networks)
    return any(
        isinstance(each, x509.DNSName) and (name == each.value or name.endswith(f".{each.value}"))
        for each in permitted
    )


def _general(name: str) -> x509.GeneralName:
    try:
        return x509.IPAddress(ipaddress.ip_address(name))
    except ValueError:
        return x509.DNSName(name)


def _serves(
    chain: Path, key_file: Path, authority: x509.Certificate, names: Sequence[str], now: datetime
) -> bool:
    """Whether the certificate that is there is ours, for these names, and good for a while yet."""
    try:
        found = x509.load_pem_x509_certificate(chain.read_bytes())
        key = serialization.load_pem_private_key(key_file.read_bytes(), None)
        found.verify_directly_issued_by(authority)
        said = found.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    except Exception:  # noqa: BLE001 - whatever is wrong with it, a new one is made
        return False
    here = {*said.get_values_for_type(x509.DNSName), *map(str, said.get_values_for_type(x509.IPAddress))}
    same = isinstance(key, ec.EllipticCurvePrivateKey) and key.public_key() == found.public_key()
    return same and set(names) <= here and found.not_valid_after_utc > now + timedelta(days=RENEW_DAYS)


def _key_bytes(key: ec.EllipticCurvePrivateKey) -> bytes:
    return key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
