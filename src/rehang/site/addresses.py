"""Under which addresses and names this machine is reached on the shop's network."""

from __future__ import annotations

import socket
from ipaddress import ip_address

import ifaddr

__all__ = ["bracketed", "reached_at", "spelled_name"]

EVERYWHERE = ("0.0.0.0", "::", "")  # noqa: S104  (named here, not bound to)


def reached_at(host: str) -> list[str]:
    """Addresses first, the ones of a network before this machine's own, then names.

    ``host`` is what the server listens on: everywhere, or one address or name alone.
    """
    name = socket.gethostname()
    if host not in EVERYWHERE:
        return [host, *({spelled_name()} - {host})]
    found = [
        str(one.ip if isinstance(one.ip, str) else one.ip[0])
        for adapter in ifaddr.get_adapters()
        for one in adapter.ips
        # An address of a link alone is none that a page can be asked for by (RFC 6874).
        if isinstance(one.ip, str) or not one.ip[2]
    ]
    if ":" not in host:
        # "0.0.0.0" listens on IPv4 alone.
        found = [one for one in found if ":" not in one]
    ordered = sorted(set(found), key=lambda one: (ip_address(one).is_loopback, ":" in one, one))
    return [*ordered, spelled_name(), *sorted({name, socket.getfqdn()} - {spelled_name()})]


def spelled_name() -> str:
    """This machine's name on its own network, as multicast DNS has it (RFC 6762, 3)."""
    return f"{socket.gethostname().partition('.')[0].lower()}.local"


def bracketed(host: str) -> str:
    """A host as it stands in an address (RFC 3986, 3.2.2)."""
    return f"[{host}]" if ":" in host else host
