"""Where the command keeps its things, and which pool it speaks to.

Order: the environment (`MENDPOOL_URL`, `MENDPOOL_TOKEN`, `MENDPOOL_HOME`,
`MENDPOOL_CACHE_DIR`), then what `mendpool join` kept.
"""

import ipaddress
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlsplit

from mendpool_field.disk import read_object, write_object
from mendpool_field.errors import BadUsage, NoPool

_TOKEN_MOST = 200
_CODE = re.compile(r"in[0-9a-f]{10}_[A-Za-z0-9_-]{43}")


@dataclass(frozen=True, slots=True)
class Service:
    """A pool's service: its address without a slash at the end, and this member's token."""

    url: str
    token: str | None

    def __repr__(self) -> str:
        """Leave the token out, so that no trace ever holds it."""
        return f"Service({self.url!r})"


@dataclass(frozen=True, slots=True)
class Settings:
    """What the command needs to know before it does anything.

    Args:
        home: the folder of everything it keeps.
        cache: the folder of what can be made again.
        service: the pool's service, None where no pool was joined.
    """

    home: Path
    cache: Path
    service: Service | None
    region: str | None = None

    def needed_service(self) -> Service:
        """Return the service.

        Raises:
            NoPool: there is none.
        """
        if self.service is None:
            raise NoPool
        return self.service


def load_settings(env: Mapping[str, str]) -> Settings:
    """Return the settings.

    A kept token only ever goes to the address it was kept for; another `MENDPOOL_URL`
    needs its own, from `MENDPOOL_TOKEN` or a `join` of its own.

    Raises:
        BadUsage: `MENDPOOL_URL` is no address that may be used.
        DamagedFile: what `join` kept can't be read.
    """
    home = _home(env)
    cache = Path(env.get("MENDPOOL_CACHE_DIR") or home / "cache").expanduser()
    kept = read_object(_kept(home)) or {}
    url = env.get("MENDPOOL_URL") or kept.get("url")
    region = _region(env.get("MENDPOOL_REGION"))
    if not isinstance(url, str) or not url:
        return Settings(home, cache, None, region)
    url = checked_url(url)
    tokens = kept.get("tokens")
    kept_token = tokens.get(url) if isinstance(tokens, dict) else None
    token = env.get("MENDPOOL_TOKEN") or kept_token
    return Settings(home, cache, Service(url, checked_token(token) if token else None), region)


def keep_service(home: Path, service: Service) -> None:
    """Keep a pool that was joined, in a file that only its owner can read."""
    kept = read_object(_kept(home)) or {}
    tokens = kept.get("tokens")
    tokens = dict(tokens) if isinstance(tokens, dict) else {}
    if service.token is not None:
        tokens[service.url] = service.token
    write_object(_kept(home), {"url": service.url, "tokens": tokens})


def checked_url(typed: str) -> str:
    """Return a service's address in its usual form.

    Raises:
        BadUsage: not https (plain http only to this same machine), or no address.
    """
    typed = typed.strip().rstrip("/")
    try:
        parts = urlsplit(typed)
        host, _ = parts.hostname, parts.port
    except ValueError:
        host, parts = None, urlsplit("")
    if parts.scheme not in {"http", "https"} or not host or parts.query or parts.fragment:
        raise BadUsage(
            "That is no address of a pool.",
            "Give it as https://pool.example, as your steward wrote it.",
        )
    if parts.username is not None:
        raise BadUsage(
            "An address with a name or password in it is not used.",
            "Leave out what stands before the @; the token is asked for.",
        )
    if parts.scheme == "http" and not _is_this_machine(host):
        raise BadUsage(
            "Over plain http anyone on the way could read your token.",
            f"Use https://{parts.netloc}{parts.path} instead.",
        )
    return f"{parts.scheme}://{parts.netloc.lower()}{parts.path}"


def checked_token(typed: str) -> str:
    """Return a token as typed, less the space around it.

    Raises:
        BadUsage: it can't be one.
    """
    token = typed.strip()
    if not token or len(token) > _TOKEN_MOST or not token.isascii() or not token.isprintable():
        raise BadUsage(
            "That is no token.", "Copy it again, whole, from the message of your steward."
        )
    return token


def is_code(typed: str) -> bool:
    """Tell whether what was typed is an invitation's code and no token."""
    return _CODE.fullmatch(typed) is not None


def _is_this_machine(host: str) -> bool:
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def _region(named: str | None) -> str | None:
    """Two letters of a country, for telling its telephone numbers; anything else is none."""
    found = (named or "").strip().upper()
    return found if len(found) == 2 and found.isascii() and found.isalpha() else None


def _home(env: Mapping[str, str]) -> Path:
    named = env.get("MENDPOOL_HOME")
    if named:
        return Path(named).expanduser()
    from platformdirs import user_data_path

    return user_data_path("mendpool", appauthor=False)


def _kept(home: Path) -> Path:
    return home / "joined.json"
