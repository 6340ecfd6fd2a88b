"""The index on disk: closed segments as plain arrays that every process of a host maps.

A segment's files are written once under a new name. A manifest then names the segments that
count, with a checksum of every file and of itself; it is put in place in one step, so that
whoever is killed leaves either the old state or the new one. Nothing here is the truth: what
can't be read is made again from the feed.
"""

import importlib
import json
import shutil
import time
import zlib
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from hashlib import sha256
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from mendpool.index.files import read_array, sum_of, sync, write_all, write_array
from mendpool.index.planes import Words, words_for
from mendpool.index.segment import Forward, Segment
from mendpool.index.view import Bench, Closed, Part

FORMAT = 3
_MANIFEST = "manifest.json"
_LOADS = 3
_AGAIN_S = 0.2
_FORWARD = Forward._fields
Sums = Mapping[str, int]
_LISTS = ("begins", "rows", "dense", "bitmaps")


class Loaded(NamedTuple):
    """What was on disk, and what its last line of the feed was about.

    By the anchor another feed is told apart, such as that of an older backup.
    """

    closed: Closed
    anchor: str


class Folder:
    """The place of one version of the index; other versions lie beside it."""

    def __init__(self, place: Path, version: str) -> None:
        """Use a folder of its own in `place` for a version of pool, catalogue and code."""
        name = sha256(f"{FORMAT} {version}".encode()).hexdigest()[:24]
        self._place = place
        self._names: dict[str, Segment] = {}
        self._sums: dict[str, Sums] = {}
        self.path = place / name

    def newest_seq(self) -> int:
        """Return the last line of the feed that is in what is on disk; 0 for nothing."""
        try:
            return int(self._manifest()["seq"])
        except (OSError, ValueError, KeyError, TypeError):
            return 0

    def load(self) -> Loaded | None:
        """Return what is on disk; None where nothing is, or nothing that can be used."""
        for _ in range(_LOADS):
            try:
                return self._load()
            except FileNotFoundError:
                continue  # replaced between two looks, or never there
            except (OSError, ValueError, KeyError, TypeError, EOFError):
                return None
        return None

    def publish(self, closed: Closed, anchor: str) -> bool:
        """Put closed segments in place of what is on disk, and drop what no longer counts.

        Words that no report in them uses are left out, so that nothing taken back stays.
        Call it with `writing`.

        Returns:
            Whether the large segment was written anew: what lies in memory can then be
            exchanged for what is mapped.

        Raises:
            OSError: the disk is full or can't be written; what was there still counts.
        """
        self.path.mkdir(parents=True, exist_ok=True)
        before = set(self._names)
        segments = [self._written(part.segment, closed.seq) for part in closed.parts]
        held = [self._unused(f"held-{closed.seq}-{place}") for place in range(len(segments))]
        for name, part in zip(held, closed.parts, strict=True):
            write_array(self.path / name, part.held)
        later = self._unused(f"later-{closed.seq}")
        write_array(self.path / later, closed.later)
        terms = self._unused(f"terms-{closed.seq}")
        write_all(self.path / terms, json.dumps(_used_terms(closed)).encode())
        sums = {name: sum_of(self.path / name) for name in (terms, later, *held)}
        for name in segments:
            sums |= self._sums[name]
        manifest = {
            "seq": closed.seq,
            "last": closed.last,
            "anchor": anchor,
            "terms": terms,
            "later": later,
            "segments": segments,
            "held": held,
            "sums": sums,
        }
        manifest["sum"] = _sum(manifest)
        fresh = self.path / f"{_MANIFEST}.new"
        write_all(fresh, json.dumps(manifest).encode())
        sync(self.path)
        fresh.replace(self.path / _MANIFEST)
        sync(self.path)
        self._drop_all_but({terms, later, _MANIFEST, _LOCK, *segments, *held})
        return bool(segments) and segments[0] not in before

    def discard(self) -> None:
        """Have nothing on disk count any more."""
        with suppress(OSError):  # where nothing can be written, nothing was
            (self.path / _MANIFEST).unlink(missing_ok=True)

    @contextmanager
    def writing(self, wait_s: float = 0) -> Iterator[bool]:
        """Give the turn to publish, or tell that another process of this host has it.

        Args:
            wait_s: how long to wait for it.
        """
        self.path.mkdir(parents=True, exist_ok=True)
        until = time.monotonic() + wait_s
        with (self.path / _LOCK).open("ab") as file:
            while not (got := _locked(file.fileno())) and time.monotonic() < until:
                time.sleep(_AGAIN_S)
            yield got

    def _manifest(self) -> dict[str, Any]:
        found: dict[str, Any] = json.loads((self.path / _MANIFEST).read_bytes())
        if found.pop("sum") != _sum(found):
            raise ValueError("a damaged manifest")
        return found

    def _load(self) -> Loaded:
        manifest = self._manifest()
        sums = manifest["sums"]
        if any(sum_of(self.path / name) != told for name, told in sums.items()):
            raise ValueError("a damaged file")
        terms = json.loads((self.path / manifest["terms"]).read_bytes())
        # A number that stands for no word any more keeps its place under a key of its own.
        names = [term or f"\0{place}" for place, term in enumerate(terms)]
        parts = tuple(
            self._part(name, held, {k: v for k, v in sums.items() if k.startswith(f"{name}/")})
            for name, held in zip(manifest["segments"], manifest["held"], strict=True)
        )
        later = read_array(self.path / manifest["later"])
        closed = Closed(names, parts, later, manifest["seq"], manifest["last"])
        return Loaded(closed, manifest["anchor"])

    def _part(self, name: str, held: str, sums: Sums) -> Part:
        folder = self.path / name
        forward = Forward(*(read_array(folder / field) for field in _FORWARD))
        segment = Segment(forward, *(read_array(folder / field) for field in _LISTS))
        kept = np.array(read_array(self.path / held))
        _check(segment, kept)
        self._names[name], self._sums[name] = segment, sums
        return Part(segment, kept, Bench(len(segment)))

    def _written(self, segment: Segment, seq: int) -> str:
        """Return the name under which a segment lies on disk, written now if need be."""
        for name, known in self._names.items():
            if known is segment and (self.path / name).is_dir():
                return name
        name = self._unused(f"segment-{seq}-{len(segment)}")
        folder = self.path / name
        folder.mkdir()
        arrays = (*segment.forward, *(getattr(segment, field) for field in _LISTS))
        for field, array in zip((*_FORWARD, *_LISTS), arrays, strict=True):
            write_array(folder / field, array)
        sync(folder)
        self._names[name] = segment
        self._sums[name] = {f"{name}/{f.name}": sum_of(f) for f in folder.iterdir()}
        return name

    def _unused(self, name: str) -> str:
        """Return a name that no file has; one left by a process that was killed may."""
        while (self.path / name).exists():
            name += "-"
        return name

    def _drop_all_but(self, kept: set[str]) -> None:
        # A process that still maps them keeps them until it lets go.
        self._names = {name: seg for name, seg in self._names.items() if name in kept}
        for old in [p for p in self.path.iterdir() if p.name not in kept]:
            _drop(old)
        for other in [p for p in self._place.iterdir() if p.is_dir() and p != self.path]:
            with (other / _LOCK).open("ab") as file:
                free = _locked(file.fileno())
            if free:
                _drop(other)


_LOCK = "lock"


def _sum(manifest: dict[str, Any]) -> int:
    return zlib.crc32(json.dumps(manifest, sort_keys=True).encode())


def _check(segment: Segment, held: Words) -> None:
    """Refuse arrays that can't belong together.

    Raises:
        ValueError: they don't.
    """
    forward, rows = segment.forward, len(segment)
    fits = (
        len(forward.high) == len(forward.low) == rows == len(forward.starts) - 1
        and int(forward.starts[-1]) == len(forward.terms)
        and len(forward.whose) == rows == len(forward.told_starts) - 1
        and int(forward.told_starts[-1]) == len(forward.told)
        and int(segment.begins[-1]) == len(segment.rows)
        and len(held) == words_for(rows)
        and (not segment.sliced or segment.bitmaps.shape[1] == words_for(rows))
    )
    if not fits:
        raise ValueError("arrays of different segments")


def _locked(descriptor: int) -> bool:
    """Take the system's lock on a file; it ends when the file is closed."""
    try:
        system = importlib.import_module("fcntl")
    except ImportError:  # no such locks here, and one process only
        return True
    try:
        system.flock(descriptor, system.LOCK_EX | system.LOCK_NB)
    except BlockingIOError:
        return False
    return True


def _drop(path: Path) -> None:
    if path.is_dir():
        shutil.rmtree(path, ignore_errors=True)
    else:
        path.unlink(missing_ok=True)


def _used_terms(closed: Closed) -> list[str]:
    """Return the terms by number, with nothing in the place of those that no report uses."""
    used = np.zeros(len(closed.names), dtype=np.bool_)
    for part in closed.parts:
        used[part.segment.forward.terms] = True
        used[part.segment.forward.told] = True
    used[closed.later[2:].ravel()] = True
    return [t if here else "" for t, here in zip(closed.names, used.tolist(), strict=True)]
