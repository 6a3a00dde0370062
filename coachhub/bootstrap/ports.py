"""Ports: find a free one, or say that the wished one is taken."""

from __future__ import annotations

import errno
import socket

from coachhub.bootstrap.failures import SetupError


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


def require_free(host: str, port: int) -> None:
    """Raise SetupError with a sentence when the port can't be listened on."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    with socket.socket(family) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except OSError as error:
            raise _sentence(host, port, error) from error


def _sentence(host: str, port: int, error: OSError) -> SetupError:
    other = f"start on another one: python3 manage.py demo --port {port + 1 if port < 65535 else 8001}"
    if error.errno == errno.EADDRINUSE:
        return SetupError(f"Port {port} is taken by another program (perhaps a demo that still runs).", other)
    if error.errno == errno.EACCES:
        return SetupError(f"Port {port} may only be opened by root.", other)
    return SetupError(f"The address {host}:{port} can't be opened: {error.strerror}.", "use --host 127.0.0.1")


def answers(host: str, port: int) -> bool:
    try:
        with socket.create_connection((host, port), timeout=0.5):
            return True
    except OSError:
        return False
