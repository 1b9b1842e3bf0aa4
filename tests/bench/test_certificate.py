"""The bench's own certificates, and the addresses they are for."""

from __future__ import annotations

import ipaddress
import socket
import ssl
import threading
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from cryptography import x509

from trysquare.bench import lan
from trysquare.bench.certificate import AUTHORITY_DAYS, LEAF_DAYS, RENEW_DAYS, certificates

NAMES = ("localhost", "127.0.0.1", "::1", "192.168.7.20", "workshop", "workshop.local")


def test_another_library_trusts_the_certificate_for_our_names_alone(tmp_path: Path) -> None:
    """Source: OpenSSL, through Python's ssl."""
    made = certificates(tmp_path, NAMES)
    serving = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    serving.load_cert_chain(made.chain, made.key)
    trusting = ssl.create_default_context(cadata=made.authority.decode("ascii"))
    for name in ("localhost", "127.0.0.1", "192.168.7.20", "workshop", "workshop.local"):
        assert _shakes_hands(serving, trusting, name), name
    for name in ("example.org", "192.168.7.21", "8.8.8.8"):
        assert not _shakes_hands(serving, trusting, name), name


def _shakes_hands(serving: ssl.SSLContext, trusting: ssl.SSLContext, name: str) -> bool:
    ours, theirs = socket.socketpair()

    def serve() -> None:
        try:
            with serving.wrap_socket(ours, server_side=True) as wrapped:
                wrapped.recv(1)
        except OSError:
            ours.close()

    thread = threading.Thread(target=serve)
    thread.start()
    try:
        with trusting.wrap_socket(theirs, server_hostname=name) as wrapped:
            wrapped.send(b"x")
    except ssl.SSLCertVerificationError:
        return False
    else:
        return True
    finally:
        theirs.close()
        thread.join()


def test_the_authority_may_speak_for_private_addresses_alone(tmp_path: Path) -> None:
    authority = x509.load_pem_x509_certificate(certificates(tmp_path, NAMES).authority)
    limits = authority.extensions.get_extension_for_class(x509.NameConstraints).value
    assert limits.permitted_subtrees is not None
    for each in limits.permitted_subtrees:
        if isinstance(each, x509.IPAddress):
            assert ipaddress.ip_network(each.value).is_private
        else:
            assert each.value in ("localhost", "local", "home.arpa", "internal", "lan", "workshop")
    basic = authority.extensions.get_extension_for_class(x509.BasicConstraints).value
    assert (basic.ca, basic.path_length) == (True, 0)


def test_a_name_that_came_later_is_left_out_rather_than_spoil_the_others(tmp_path: Path) -> None:
    certificates(tmp_path, NAMES)
    made = certificates(tmp_path, (*NAMES, "newname", "newname.local"))
    serving = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    serving.load_cert_chain(made.chain, made.key)
    trusting = ssl.create_default_context(cadata=made.authority.decode("ascii"))
    assert _shakes_hands(serving, trusting, "newname.local")
    assert not _shakes_hands(serving, trusting, "newname")


def test_keys_are_the_owners_alone(tmp_path: Path) -> None:
    certificates(tmp_path / "home", NAMES)
    for file in (tmp_path / "home").glob("*-key.pem"):
        assert file.stat().st_mode & 0o077 == 0


def test_a_new_start_keeps_the_certificates_and_other_addresses_keep_the_authority(tmp_path: Path) -> None:
    first = certificates(tmp_path, NAMES)
    chain = first.chain.read_bytes()
    assert certificates(tmp_path, NAMES).chain.read_bytes() == chain
    other = certificates(tmp_path, (*NAMES, "10.0.0.7"))
    assert other.authority == first.authority
    assert other.chain.read_bytes() != chain


def test_certificates_are_renewed_before_they_end(tmp_path: Path) -> None:
    begin = datetime.now(UTC)
    first = certificates(tmp_path, NAMES, begin)
    chain = first.chain.read_bytes()
    later = begin + timedelta(days=LEAF_DAYS - RENEW_DAYS + 1)
    assert certificates(tmp_path, NAMES, later).chain.read_bytes() != chain
    last = begin + timedelta(days=AUTHORITY_DAYS - LEAF_DAYS + 1)
    assert certificates(tmp_path, NAMES, last).authority != first.authority


@pytest.mark.parametrize("name", ["authority.pem", "authority-key.pem", "bench.pem", "bench-key.pem"])
@pytest.mark.parametrize(
    "content", [b"", b"nonsense", b"-----BEGIN CERTIFICATE-----\nAAAA\n-----END CERTIFICATE-----"]
)
def test_a_damaged_certificate_is_made_anew(tmp_path: Path, name: str, content: bytes) -> None:
    certificates(tmp_path, NAMES)
    (tmp_path / name).write_bytes(content)
    made = certificates(tmp_path, NAMES)
    serving = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    serving.load_cert_chain(made.chain, made.key)


def test_only_private_addresses_are_offered(monkeypatch: pytest.MonkeyPatch) -> None:
    rows = [
        "10.1.2.3",
        "203.0.113.9",
        "8.8.8.8",
        "127.0.0.1",
        "169.254.1.1",
        "fe80::1%eth0",
        "fd00::7",
        "0.0.0.0",
    ]
    monkeypatch.setattr(lan.socket, "getaddrinfo", lambda *_: [(0, 0, 0, "", (each, 0)) for each in rows])

    class NoNetwork:
        def __init__(self, *_: object) -> None:
            raise OSError

    monkeypatch.setattr(lan.socket, "socket", NoNetwork)
    assert lan.own_addresses() == ("10.1.2.3", "fd00::7")


@pytest.mark.parametrize(
    ("name", "names"),
    [("Workshop", ("workshop", "workshop.local")), ("a.local", ("a", "a.local")), ("a.b.c", ("a.b.c",)),
     ("localhost", ()), ("", ()), ("a<b", ())],
)  # fmt: skip
def test_this_computer_is_called_by_plain_names(
    monkeypatch: pytest.MonkeyPatch, name: str, names: tuple[str, ...]
) -> None:
    monkeypatch.setattr(lan.socket, "gethostname", lambda: name)
    assert lan.own_names() == names


def test_an_address_is_as_a_browser_takes_it() -> None:
    assert lan.web_addresses("https", ("10.0.0.7", "fd00::7"), 8471) == (
        "https://10.0.0.7:8471/", "https://[fd00::7]:8471/",
    )  # fmt: skip
