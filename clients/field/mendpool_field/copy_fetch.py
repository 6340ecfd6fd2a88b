"""Fetch what a copy is made of: the packed feed, resumed at any byte, and pages after it."""

import gzip
import hashlib
import json
import shutil
import zlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from mendpool_field.errors import (
    NoRoom,
    NotMendpool,
    Refused,
    ServiceFailed,
    TooMany,
    Unreachable,
)

if TYPE_CHECKING:
    from mendpool_field.copy_place import CopyPlace
    from mendpool_field.flush import Patience
    from mendpool_field.gateway import Gateway

PAGE = 500
_NOT_FOUND = 404
_GROWS = 8
"""A copy on disk is at most so many times its packed feed, index and all."""
_SPARE = 16 * 1_048_576
"""Bytes left free for what is more needful: the outbox."""
_CHUNK = 262_144

T = TypeVar("T")
Say = Callable[[str], None]
Clock = Callable[[], float]


class Progress:
    """Says how far it is, at most every two seconds, so that a thin line is not filled.

    Args:
        say: hears a sentence.
        clock: gives seconds that only rise.
    """

    _EVERY_S = 2.0

    def __init__(self, say: Say, clock: Clock) -> None:
        self._say, self._clock = say, clock
        self._said = clock()

    def at(self, words: str) -> None:
        """Say it, if it is time."""
        now = self._clock()
        if now - self._said >= self._EVERY_S:
            self._said = now
            self._say(words)


class Fetching:
    """Fetches from one pool.

    Args:
        gateway: the way to it.
        patience: how what fails is tried again.
        progress: is told.
    """

    def __init__(self, gateway: "Gateway", patience: "Patience", progress: Progress) -> None:
        self._gateway, self._patience, self._progress = gateway, patience, progress
        self.bytes = 0

    def packed(self) -> dict[str, Any]:
        """Return what the pool tells of its packed feed; `name` is None where it has none."""
        try:
            return self._tried(self._gateway.packed)
        except Refused as refused:
            if refused.status == _NOT_FOUND:
                return {"name": None}
            raise

    def page(self, after: int, derived: str, seen: Sequence[int] = ()) -> dict[str, Any]:
        """Return a page of the feed, with the lines of some numbers to know it by."""
        params = {"after": str(after), "limit": str(PAGE), "derived": derived}
        if seen:
            params["seen"] = ",".join(map(str, seen))
        page, size = self._tried(lambda: self._gateway.changes(params))
        self.bytes += size
        items = page.get("items")
        if not isinstance(items, list) or not isinstance(page.get("pool"), str):
            raise NotMendpool(self._gateway.url, 200)
        return page

    def fetch(self, told: Mapping[str, Any], place: "CopyPlace") -> Path:
        """Fetch a packed feed whole and check it; what came of it before is gone on from.

        Raises:
            NoRoom: the disk is too full for it.
            NotMendpool: what came is not what was promised, twice.
        """
        part = place.part(str(told["name"]))
        size = int(told["size"])
        _check_room(part, size)
        for _ in range(2):
            self._tried(lambda: self._fetch_rest(str(told["name"]), part, size))
            if part.stat().st_size == size and _sha256(part) == told["sha256"]:
                return part
            part.unlink()
        raise NotMendpool(self._gateway.url, 200)

    def _fetch_rest(self, name: str, part: Path, size: int) -> None:
        held = part.stat().st_size if part.exists() else 0
        if held >= size:
            return
        with self._gateway.packed_bytes(name, held) as (start, chunks), part.open("ab") as file:
            if start != held:  # a proxy that knows no ranges sends all of it
                file.truncate(0)
                held = 0
            for chunk in chunks:
                file.write(chunk)
                held += len(chunk)
                self.bytes += len(chunk)
                self._progress.at(f"Fetching the copy: {_mb(held)} of {_mb(size)} MB.")
        if held < size:
            raise Unreachable(self._gateway.url, "the connection broke off")

    def _tried(self, call: Callable[[], T]) -> T:
        tried = 1
        while True:
            try:
                return call()
            except (Unreachable, ServiceFailed, TooMany) as trouble:
                if not self._patience.waited(trouble, tried):
                    raise
                tried += 1


def lines_of(part: Path) -> Iterator[dict[str, Any]]:
    """Yield the lines of a packed feed, the first telling what it is.

    Raises:
        ValueError: it is no packed feed.
    """
    try:
        with gzip.open(part, "rb") as packed:
            for line in packed:
                yield json.loads(line)
    except (EOFError, zlib.error, gzip.BadGzipFile) as error:
        raise ValueError(str(error)) from error


def _check_room(part: Path, size: int) -> None:
    needed = size * _GROWS + _SPARE
    free = shutil.disk_usage(part.parent).free
    if free < needed:
        raise NoRoom(needed, free)


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _mb(size: int) -> str:
    return f"{size / 1e6:.1f}"
