"""How a server on this machine is reached: by us, and by other devices on the network."""

from __future__ import annotations

import contextlib
import socket
import urllib.error
import urllib.request

EVERYWHERE = {"0.0.0.0": "127.0.0.1", "::": "::1"}


def bracketed(host: str) -> str:
    return f"[{host}]" if ":" in host else host


def shown_host(host: str) -> str:
    """What a person types: an address of this machine when the server listens on all of them."""
    return own_addresses()[0] if host in EVERYWHERE else bracketed(host)


def own_addresses() -> list[str]:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe, contextlib.suppress(OSError):
        # A documentation address (RFC 5737): nothing is sent, the kernel only picks a route.
        probe.connect(("192.0.2.1", 9))
        return [probe.getsockname()[0], socket.gethostname()]
    return [socket.gethostname()]


def answers(host: str, port: int, path: str) -> bool:
    """Whether the server gives a good answer on this machine."""
    address = f"http://{bracketed(EVERYWHERE.get(host, host))}:{port}{path}"
    try:
        with urllib.request.urlopen(address, timeout=2) as response:
            return bool(response.status == 200)
    except (urllib.error.URLError, OSError):
        return False
