"""A copy on a stick: one member's copy of the pool, packed for another member of it.

JSON Lines, compressed: first what it is, then the feed as the pool tells it, last how many
lines there were and their hash. Read twice, or after a newer one, it changes nothing.
"""

import gzip
import hashlib
import json
import os
import zlib
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from mendpool.usecases.own_copy import known_cautions, with_cautions
from mendpool.usecases.snapshot import FORMAT, feed_head, feed_lines, packed_line
from mendpool_field.copy_place import CopyPlace, CopyState
from mendpool_field.errors import BadUsage
from mendpool_field.own_copy import CopyFiles, opened

if TYPE_CHECKING:
    from mendpool.core.catalogue.catalogue import Catalogue

Head = dict[str, Any]


def write_stick(place: CopyPlace, state: CopyState, to: Path, catalogue: "Catalogue") -> Head:
    """Pack a copy into a file, whole or not at all; return its first line.

    Raises:
        OSError: nothing was written.
    """
    part = to.with_name(f"{to.name}.{os.getpid()}.part")
    known = known_cautions(catalogue)
    with opened(CopyFiles(place.file(state.folder), place.index(state.folder))) as store:
        head: Head = feed_head(state.pool, store.last_seq(), state.derived)
        head["synced"] = state.synced
        try:
            with part.open("xb") as file:
                with gzip.GzipFile("", "wb", fileobj=file, mtime=0) as packed:
                    digest, lines = hashlib.sha256(), 0
                    packed.write(packed_line(head))
                    for told in feed_lines(store, head["upto"], state.derived):
                        if told["kind"] == "report" and "body" in told:
                            told["body"] = with_cautions(told["body"], known)
                        line = packed_line(told)
                        digest.update(line)
                        packed.write(line)
                        lines += 1
                    packed.write(packed_line({"lines": lines, "sha256": digest.hexdigest()}))
                file.flush()
                os.fsync(file.fileno())
            part.replace(to)
        finally:
            part.unlink(missing_ok=True)
    return {**head, "lines": lines}


def head_of(file: Path) -> Head:
    """Return the first line of a stick that is whole; every line was looked at.

    Raises:
        BadUsage: it is no copy, or it is damaged or broke off.
    """
    digest, before, last = hashlib.sha256(), -1, b""
    head: Head | None = None
    try:
        for line in _raw(file):
            if head is None:
                head = json.loads(line)
                continue
            if last:
                digest.update(last)
            last, before = line, before + 1
        end = json.loads(last) if last else {}
    except (EOFError, ValueError, zlib.error, gzip.BadGzipFile):
        head, end = None, {}
    whole = head is not None and head.get("mendpool") == "copy" and head.get("format") == FORMAT
    if head is None or not whole or end != {"lines": before, "sha256": digest.hexdigest()}:
        raise BadUsage(
            f"{file} is no whole copy: it is damaged, broke off, or is something else.",
            "Write it again with mendpool copy write. Your own copy is as it was.",
        )
    return {**head, "lines": before}


def lines_of_stick(file: Path) -> Iterator[dict[str, Any]]:
    """Yield the lines of the feed on a stick that `head_of` found whole."""
    lines = _raw(file)
    next(lines)
    held = next(lines)
    for line in lines:
        yield json.loads(held)
        held = line


def _raw(file: Path) -> Iterator[bytes]:
    with gzip.open(file, "rb") as packed:
        yield from packed
