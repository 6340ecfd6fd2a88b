"""Pack the feed for whoever begins a copy: one compressed file, made out of the way.

It reaches to the newest fit, or to the last withdrawal where that is later; so it is made
anew as often as a fit is, and hosts that share a database pack the same bytes. What was
withdrawn is not in it, and one from before the last withdrawal is never handed out. Nothing
here is the truth: without a file a copy is fetched page by page.
"""

import gzip
import hashlib
import json
import os
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from mendpool.core.diagnosis.derive import derived_version
from mendpool.core.evidence.fit_format import fit_version
from mendpool.store.pool_store import PoolStore
from mendpool.usecases.apart import Apart
from mendpool.usecases.changes import line_of
from mendpool.usecases.workplace import Workplace

FORMAT = 1
_PAGE = 500
_LEVEL = 6
_KEPT = 2
"""How many are kept: whoever is in the middle of the one before can finish it."""
_NAME = "feed-"


@dataclass(frozen=True, slots=True)
class Snapshot:
    """What is known of a packed feed.

    Args:
        name: what to ask for it by.
        upto: the last number of the feed in it.
        lines: how many lines it has, but for the first, which says what it is.
        size: bytes.
        sha256: of its bytes, in hexadecimal digits.
    """

    name: str
    upto: int
    lines: int
    size: int
    sha256: str


class _GivenUp(Exception):
    """The process ends, or something was withdrawn, before it was packed."""


class Snapshots:
    """Packs the feed and hands it out. One for a process; any thread may call it.

    Args:
        place: the hold on the pool.
        folder: where packed feeds lie; may be thrown away.
    """

    def __init__(self, place: Workplace, folder: Path) -> None:
        self._store = place.store
        self._derived = derived_version(place.catalogue)
        self._catalogue = place.catalogue.version
        self._folder = folder
        self._apart = Apart()

    def newest(self, wait_s: float) -> Snapshot | None:
        """Return the newest that may be handed out; None while the first is being packed.

        Where it lacks much of the feed another is begun, and this one still serves.

        Args:
            wait_s: how long to wait where there is none.
        """
        found = self._newest()
        if found is not None and found.upto >= self._wanted():
            return found
        if found is None:
            self.drop_stale()  # another process may have taken something back
        self._apart.put("pack the feed", self._pack)
        if found is None:
            self._apart.settle(wait_s)
            found = self._newest()
        return found

    @property
    def is_worth_it(self) -> bool:
        """Whether there is anything to pack: before the first fit pages are enough."""
        return self._wanted() > 0

    def file_of(self, name: str) -> Path | None:
        """Return the file of a packed feed; None where there is none to be handed out."""
        held = [told for told in self._held() if told.name == name]
        if not held or held[0].upto < self._store.last_withdrawal():
            return None
        return self._folder / name

    def drop_stale(self) -> None:
        """Delete what was packed before the last withdrawal: its bytes hold what is gone."""
        gone = self._store.last_withdrawal()
        for path in self._folder.glob(f"{_NAME}*"):
            upto = path.name.removeprefix(_NAME).partition("-")[0]
            if upto.isdigit() and int(upto) < gone:
                with suppress(OSError):
                    path.unlink()

    def settle(self, timeout_s: float = 60) -> bool:
        """Wait until nothing is being packed; tell whether that came to pass."""
        return self._apart.settle(timeout_s)

    def stop(self) -> None:
        """Give up what is being packed."""
        self._apart.stop()

    def _wanted(self) -> int:
        fit = self._store.newest_fit(fit_version(self._catalogue))
        return max(0 if fit is None else fit.seq, self._store.last_withdrawal())

    def _newest(self) -> Snapshot | None:
        gone = self._store.last_withdrawal()
        return next((told for told in self._held() if told.upto >= gone), None)

    def _held(self) -> list[Snapshot]:
        """Return what lies in the folder, the newest first."""
        held = [told for path in self._folder.glob(f"{_NAME}*.json") if (told := _told(path))]
        return sorted(held, key=lambda told: -told.upto)

    def _pack(self) -> None:
        upto = self._wanted()
        if any(told.upto >= upto for told in self._held()):
            return
        # Hosts that share a database take turns; each has a folder of its own.
        with self._store.alone("snapshot", 1) as mine:
            if mine:
                self._folder.mkdir(parents=True, exist_ok=True)
                part = self._folder / f"part-{os.getpid()}"
                try:
                    self._publish(part, upto)
                except _GivenUp:
                    pass
                finally:
                    part.unlink(missing_ok=True)
                self._tidy()

    def _publish(self, part: Path, upto: int) -> None:
        lines = self._written(part, upto)
        with part.open("rb") as packed:
            digest = hashlib.file_digest(packed, "sha256").hexdigest()
        name = f"{_NAME}{upto}-{digest[:16]}"
        told = Snapshot(name, upto, lines, part.stat().st_size, digest)
        part.replace(self._folder / name)
        about = self._folder / f"{name}.json"
        fresh = about.with_suffix(".new")
        fresh.write_text(json.dumps(asdict(told)), "utf-8")
        fresh.replace(about)

    def _written(self, part: Path, upto: int) -> int:
        pool = str(self._store.pool_settings().pool_id)
        head = feed_head(pool, upto, self._derived) | {"catalogue": self._catalogue}
        begun = self._store.last_withdrawal()
        lines = 0
        # No file name and no time in its head: the same feed gives the same bytes.
        with (
            part.open("wb") as file,
            gzip.GzipFile("", "wb", compresslevel=_LEVEL, fileobj=file, mtime=0) as packed,
        ):
            packed.write(packed_line(head))
            for told in feed_lines(self._store, upto, self._derived):
                if self._apart.stopping:
                    raise _GivenUp
                packed.write(packed_line(told))
                lines += 1
        if self._store.last_withdrawal() != begun:
            raise _GivenUp  # it may hold what was withdrawn meanwhile
        return lines

    def _tidy(self) -> None:
        gone = self._store.last_withdrawal()
        kept = [told.name for told in self._held() if told.upto >= gone][:_KEPT]
        for path in self._folder.glob(f"{_NAME}*"):
            if path.name.removesuffix(".json") not in kept:
                with suppress(OSError):
                    path.unlink()


def feed_lines(store: PoolStore, upto: int, derived: str) -> Iterator[dict[str, Any]]:
    """Yield the feed up to and including a number, without what says nothing any more."""
    after = 0
    while after < upto:
        page = store.changes_after(after, _PAGE)
        if not page:
            return
        for change in page:
            after = change.seq
            says = change.kind == "withdrawal" or change.body or change.fit
            if change.seq <= upto and says:
                yield line_of(change, derived)


def feed_head(pool: str, upto: int, derived: str) -> dict[str, Any]:
    """Return the first line of a packed feed, which says what it is.

    Args:
        pool: the id of the pool.
        upto: the last number of the feed in it.
        derived: the version its cases were derived with.
    """
    return {
        "mendpool": "copy",
        "format": FORMAT,
        "pool": pool,
        "upto": upto,
        "derived": derived,
    }


def packed_line(told: dict[str, Any]) -> bytes:
    """Return a line of a packed feed."""
    return json.dumps(told, ensure_ascii=False, separators=(",", ":")).encode() + b"\n"


def _told(path: Path) -> Snapshot | None:
    try:
        told = Snapshot(**json.loads(path.read_bytes()))
    except (OSError, ValueError, TypeError):
        return None
    return told if path.with_suffix("").is_file() else None
