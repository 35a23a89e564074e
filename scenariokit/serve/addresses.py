"""Addresses: which one to tell people, and under which names the server may be asked."""

from __future__ import annotations

import ipaddress
import socket

ANY = ("0.0.0.0", "::")  # noqa: S104 - compared with, not bound to
LOOPBACK = ("127.0.0.1", "localhost", "::1")
ELSEWHERE = "192.0.2.1"
"""An address of the range that is kept for documentation (RFC 5737); nothing is sent to it."""


def lan_address() -> str:
    """Return the address under which others in the network reach this computer.

    Returns
    -------
    str
        The address of the interface that leads outside; the loopback address
        if there is none.

    Notes
    -----
    A datagram socket is given a destination, which makes the system choose an
    interface, and is closed again; nothing is sent.
    """
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect((ELSEWHERE, 9))
        except OSError:
            return "127.0.0.1"
        return str(probe.getsockname()[0])


def other_addresses(told: str) -> list[str]:
    """Return the further IPv4 addresses of this computer, for the one who sets a room up."""
    import psutil

    found = {
        one.address
        for interface in psutil.net_if_addrs().values()
        for one in interface
        if one.family == socket.AF_INET and not one.address.startswith("127.")
    }
    return sorted(found - {told})


def host_name(header: str) -> str:
    """Return the name in a Host header, without port and brackets.

    Examples
    --------
    >>> host_name("[::1]:8866"), host_name("Laptop.local:8866"), host_name("10.0.0.5")
    ('::1', 'laptop.local', '10.0.0.5')
    """
    text = header.strip().lower()
    if text.startswith("["):
        return text[1:].partition("]")[0]
    return text.partition(":")[0] if text.count(":") <= 1 else text


def own_names(host: str) -> frozenset[str]:
    """Return the names, besides numbers, under which a server at `host` may be asked."""
    name = socket.gethostname().lower()
    return frozenset({"localhost", name, name.partition(".")[0] + ".local", host.lower()})


def is_own_host(header: str, names: frozenset[str]) -> bool:
    """Return whether a Host header names this server.

    Parameters
    ----------
    header : str
        The header's text.
    names : frozenset of str
        Accepted names. An address in numbers is always accepted.

    Notes
    -----
    A page of another site can have its own name resolve to this computer, and
    would then be let in by its browser as if it were ours. It cannot do so with
    an address in numbers.
    """
    name = host_name(header)
    try:
        ipaddress.ip_address(name.partition("%")[0])
    except ValueError:
        return name in names
    return True


def address_of(host: str, port: int, token: str = "") -> str:
    """Return the address to open for a server that listens on `host`."""
    reached = lan_address() if host in ANY else host
    shown = f"[{reached}]" if ":" in reached else reached
    return f"http://{shown}:{port}/" + (f"?token={token}" if token else "")
