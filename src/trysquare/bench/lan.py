"""This computer's own addresses in the workshop network. Nothing is sent to find them."""

from __future__ import annotations

import contextlib
import ipaddress
import socket
from collections.abc import Iterable

_WORKSHOP = tuple(
    ipaddress.ip_network(each) for each in ("10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "fc00::/7")
)
"""Private networks. Source: RFC 1918, 3; RFC 4193, 3."""
_NOWHERE = (("192.0.2.1", socket.AF_INET), ("2001:db8::1", socket.AF_INET6))
"""Addresses of documentation (RFC 5737, RFC 3849): a datagram socket that is bound for them says by which of
our addresses it would go, and sends nothing."""


def own_addresses() -> tuple[str, ...]:
    """Addresses by which other devices may reach this computer, the likeliest first; IPv4 before IPv6."""
    found: dict[str, None] = {}
    for nowhere, family in _NOWHERE:
        with contextlib.suppress(OSError), socket.socket(family, socket.SOCK_DGRAM) as probe:
            probe.connect((nowhere, 9))
            found[str(probe.getsockname()[0])] = None
    with contextlib.suppress(OSError):
        for row in socket.getaddrinfo(socket.gethostname(), None):
            found[str(row[4][0])] = None
    return tuple(sorted((each for each in found if _is_ours(each)), key=lambda each: ":" in each))


def own_names() -> tuple[str, ...]:
    """Names by which this computer may be called in its own network."""
    try:
        name = socket.gethostname().casefold()
    except OSError:
        return ()
    plain = name.removesuffix(".local")
    if not plain or plain == "localhost" or not all(sign.isalnum() or sign in "-." for sign in plain):
        return ()
    return (plain, f"{plain}.local") if "." not in plain else (plain,)


def web_addresses(scheme: str, addresses: Iterable[str], port: int) -> tuple[str, ...]:
    """Addresses as a browser takes them, each with a slash at its end."""
    hosts = (f"[{each}]" if ":" in each else each for each in addresses)
    return tuple(f"{scheme}://{host}:{port}/" for host in hosts)


def _is_ours(address: str) -> bool:
    """Private addresses alone: the bench is for the workshop, not for the world."""
    try:
        found = ipaddress.ip_address(address.partition("%")[0])
    except ValueError:
        return False
    return any(found.version == network.version and found in network for network in _WORKSHOP)
