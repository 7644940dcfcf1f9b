"""Keeps the tests on this machine: a connection to any other is an error."""

import ipaddress
import socket


class OutsideConnection(RuntimeError):
    """A test tried to reach another machine."""


def _stays_here(sock: socket.socket, address: object) -> bool:
    if sock.family not in (socket.AF_INET, socket.AF_INET6):
        return True
    host = address[0] if isinstance(address, tuple) else ""
    if host in {"", "localhost"}:
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def block() -> None:
    """From here on ``socket`` connects and sends to loopback addresses alone."""
    for name, place in (("connect", 0), ("connect_ex", 0), ("sendto", -1)):
        _guard(name, place)


def _guard(name: str, place: int) -> None:
    real = getattr(socket.socket, name)

    def guarded(self: socket.socket, *arguments: object) -> object:
        if not _stays_here(self, arguments[place]):
            raise OutsideConnection(f"Tests stay on this machine; this one reached for {arguments[place]}.")
        return real(self, *arguments)

    setattr(socket.socket, name, guarded)
