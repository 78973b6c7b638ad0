"""Which address of this machine other devices of the local network reach it at."""

import ipaddress
import socket

from shapecut.errors import UsageError

__all__ = ["local_address"]

ELSEWHERE = ("10.255.255.255", 9)
"""An address in no use: asked only which way leads there, nothing is sent."""


def local_address(stated: str | None) -> str:
    """The address to listen at.

    Args:
        stated: By the person; None to find it.

    Raises:
        UsageError: If it is none that one can listen at, or none is found.
    """
    if stated is not None:
        try:
            address = ipaddress.IPv4Address(stated)
        except ValueError:
            address = None
        if address is None or address.is_unspecified or address.is_multicast:
            raise UsageError(
                f"{stated} is no address to listen at: name the one that this machine has in the "
                "local network, such as 192.168.1.20."
            )
        return stated
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(ELSEWHERE)
            found = str(probe.getsockname()[0])
        except OSError:
            found = "127.0.0.1"
    if ipaddress.IPv4Address(found).is_loopback:
        raise UsageError(
            "No local network was found: connect this machine to one, or name its address there "
            "with --address."
        )
    return found
