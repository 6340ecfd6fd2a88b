"""Whether a place to listen at, and a file to serve from, are its owner's alone."""

import ipaddress
import os
import socket
import stat
from pathlib import Path

from sqlalchemy.engine import make_url

from mendpool.core.errors import Conflict

_FOR_OTHERS = stat.S_IRWXO


class NoSuchPlace(Exception):
    """No address of that name is known here."""


def open_to_others(host: str) -> bool:
    """Say whether another machine could reach a service that listens at `host`.

    Args:
        host: an address or a name, which counts by every address it stands for; an empty one
            is every address of the machine.

    Raises:
        NoSuchPlace: nothing is known by that name.
    """
    try:
        found = socket.getaddrinfo(host or None, 0, flags=socket.AI_PASSIVE)
    except (OSError, UnicodeError) as error:
        raise NoSuchPlace(host) from error
    return not all(_is_loopback(str(place[4][0])) for place in found)


def _is_loopback(address: str) -> bool:
    parsed = ipaddress.ip_address(address.partition("%")[0])
    mapped = parsed.ipv4_mapped if isinstance(parsed, ipaddress.IPv6Address) else None
    return (mapped or parsed).is_loopback


def keep_to_its_owner(database_url: str) -> None:
    """See that nobody else on the machine may open the pool's file.

    It holds the reports in full, hashes of tokens and the key of the pseudonyms. The log
    beside it takes its mode. PostgreSQL has accounts of its own.

    Raises:
        Conflict: others may, in one sentence with what to run.
    """
    url = make_url(database_url)
    if url.get_backend_name() != "sqlite" or os.name != "posix":
        return
    file = Path(str(url.database))
    if file.exists() and file.stat().st_mode & _FOR_OTHERS:
        raise Conflict(
            f"Every account of this machine may open {file}, where the reports and the pool's"
            f" key are: run `chmod o= {file}` and serve again."
        )
