"""What was said and is not yet sent: one file an entry, there before "saved" is said.

An entry is `waiting` or, when the service will never take it, `parked` with the reason.
What was sent moves to `sent/`, so that a member can find its own reports by a short piece
of the id. Every change is one rename: whenever the process is killed, each entry is whole
and in at least one place; sending it twice is harmless, since its id is its path and its
bytes never change.
"""

import json
from collections.abc import Iterator, Sequence
from contextlib import AbstractContextManager
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Literal
from uuid import UUID

from mendpool_field.disk import (
    PART,
    locked,
    read_object,
    remove_durably,
    write_object,
)
from mendpool_field.errors import BadUsage, DamagedFile
from mendpool_field.outbox_photos import PhotoFiles

State = Literal["waiting", "parked"]
_PART_KEPT_S = 3600.0
_SHORTEST = 4
_ID_IS_TAKEN = frozenset({409, 410})


@dataclass(frozen=True, slots=True)
class Entry:
    """One thing to be sent.

    Args:
        id: the UUIDv7 it was given when it was said; names sort by time.
        kind: ``report``, ``followup`` or ``photo``.
        report: the report it is or belongs to.
        body: the JSON text exactly as it is, or was, sent; of a photograph what is told of
            it (its bytes lie beside, see `outbox_photos`).
        state: see the module.
        reason: why it is parked, in a sentence.
        status: the status it was refused with.
        pool: the id of the pool that has it, where a copy told it.
    """

    id: str
    kind: Literal["report", "followup", "photo"]
    report: str
    body: str
    state: State = "waiting"
    reason: str | None = None
    status: int | None = None
    pool: str | None = None

    @property
    def path(self) -> str:
        """Where it is put."""
        if self.kind == "report":
            return f"/v1/reports/{self.id}"
        room = "photos" if self.kind == "photo" else "followups"
        return f"/v1/reports/{self.report}/{room}/{self.id}"


class Outbox:
    """The queue in one member's folder."""

    def __init__(self, home: Path) -> None:
        self._queue = home / "outbox"
        self._sent = home / "sent"
        self._lock = home / "outbox.lock"
        self._photos = PhotoFiles(self._queue)

    def save(self, entry: Entry) -> None:
        """Keep an entry; when this returns it outlives a power cut.

        Raises:
            OSError: it could not be kept, and nothing was changed.
        """
        write_object(self._queue / f"{entry.id}.json", asdict(entry))

    def save_with_photos(self, entry: Entry, photos: Sequence[tuple[Entry, bytes]]) -> None:
        """Keep a report and its photographs: all of them count, or none.

        The report comes last: without it the others are never sent.

        Raises:
            OSError: it could not be kept.
        """
        for photo, jpeg in photos:
            self._photos.keep(photo.id, jpeg)
            self.save(photo)
        self.save(entry)

    def photo_bytes(self, entry: Entry) -> bytes | None:
        """Return the bytes of a photograph that waits; None where they are damaged."""
        told = json.loads(entry.body)
        return self._photos.whole(entry.id, str(told.get("sha256")))

    def entries(self) -> list[Entry]:
        """Return everything not sent yet, oldest first; what is damaged is left out."""
        return list(_entries(self._queue))

    def damaged(self) -> list[Path]:
        """Return the files of the outbox that can't be read: they never block the others.

        One that a newer mendpool kept is among them; it is left as it is like the others.
        """
        held = sorted(self._queue.glob("*.json")) if self._queue.is_dir() else []
        return [path for path in held if _entry(path) is None and path.exists()]

    def why_unread(self, path: Path) -> str:
        """Say what keeps a file of `damaged` from being read."""
        try:
            read_object(path)
        except DamagedFile as error:
            return error.why
        return "it holds no entry"

    def waiting(self) -> list[Entry]:
        """Return what is still to be sent, each report before what follows it.

        A photograph waits with its report: while that is set aside, or was never wholly
        kept, it is not to be sent.

        Oldest first as a rule. Ids carry the time of a clock that may have been set back, so
        a follow-up can seem older than its report.
        """
        held = [entry for entry in self.entries() if entry.state == "waiting"]
        if any(entry.kind == "photo" for entry in held):
            going = {e.id for e in (*held, *self.sent()) if e.kind == "report"}
            held = [e for e in held if e.kind != "photo" or e.report in going]
        reports = {entry.id for entry in held if entry.kind == "report"}

        def place(entry: Entry) -> tuple[str, bool, str]:
            behind = entry.report if entry.report in reports else ""
            return max(entry.id, behind), entry.kind != "report", entry.id

        return sorted(held, key=place)

    def park(self, entry: Entry, reason: str, status: int | None = None) -> None:
        """Set an entry aside that the service will never take."""
        self.save(replace(entry, state="parked", reason=reason, status=status))

    def retry(self, entry: Entry) -> None:
        """Let a parked entry wait again."""
        self.save(replace(entry, state="waiting", reason=None, status=None))

    def mended(self, entry: Entry, body: str, new_id: str) -> Entry:
        """Let a parked entry wait again with another body; return it as it is now.

        Where another body stands under its id already, or stood, it goes under a new one, and
        what follows it goes with it. The new one is on the disk before the old one goes: a
        kill between leaves the old one parked, which is never sent.
        """
        taken = entry.status in _ID_IS_TAKEN
        now_id = new_id if taken else entry.id
        now_report = now_id if entry.kind == "report" else entry.report
        fresh = Entry(now_id, entry.kind, now_report, body)
        self.save(fresh)
        if taken:
            for follower in self.entries():
                if follower.kind != "report" and follower.report == entry.id:
                    self.save(replace(follower, report=now_id))
            self._remove(entry)
        return fresh

    def mark_sent(self, entry: Entry, pool: str | None = None) -> None:
        """Move an entry to what was sent, to a pool whose id may be known."""
        done = replace(entry, state="waiting", reason=None, status=None, pool=pool)
        write_object(self._sent / f"{entry.id}.json", asdict(done))
        self._remove(entry)

    def confirm(self, entry: Entry, pool: str) -> None:
        """Keep which pool has what was sent."""
        write_object(self._sent / f"{entry.id}.json", asdict(replace(entry, pool=pool)))

    def send_again(self, entry: Entry) -> None:
        """Let what was sent wait once more; a kill between leaves it in both places."""
        self.retry(replace(entry, pool=None))
        remove_durably(self._sent / f"{entry.id}.json")

    def drop(self, entry: Entry) -> None:
        """Forget an entry that was never sent; a report's photographs go with it."""
        self._remove(entry)
        if entry.kind == "report":
            for photo in self.entries():
                if photo.kind == "photo" and photo.report == entry.id:
                    self._remove(photo)

    def _remove(self, entry: Entry) -> None:
        remove_durably(self._queue / f"{entry.id}.json")
        if entry.kind == "photo":
            self._photos.drop(entry.id)

    def forget_sent(self, report_id: str) -> None:
        """Forget what was sent of a report that was withdrawn, and what waits for it."""
        for folder in (self._sent, self._queue):
            for entry in list(_entries(folder)):
                if entry.report == report_id:
                    remove_durably(folder / f"{entry.id}.json")
                    self._photos.drop(entry.id)

    def sent(self) -> list[Entry]:
        """Return what was sent from here, oldest first."""
        return list(_entries(self._sent))

    def report_known_as(self, typed: str) -> str:
        """Return the id of a report from the whole of it, or a piece of one's own.

        A piece is the beginning or the end: ids made in one minute begin alike.

        Raises:
            BadUsage: no report of one's own has such an id, or more than one.
        """
        wanted = typed.strip().lower()
        if _is_id(wanted):
            return str(UUID(wanted))
        own = {e.id: None for e in [*self.sent(), *self.entries()] if e.kind == "report"}
        found = [i for i in own if i.startswith(wanted) or i.endswith(wanted)]
        if len(wanted) >= _SHORTEST and len(found) == 1:
            return found[0]
        if len(wanted) >= _SHORTEST and found:
            some = ", ".join(found[:5])
            raise BadUsage(f"More than one of your reports is called “{typed}”: {some}.",
                           "Type a longer piece of the id.")  # fmt: skip
        raise BadUsage(
            f"None of the reports sent from here is called “{typed}”.",
            "Type the whole id, or at least four characters of its beginning or end.",
        )

    def entry_known_as(self, typed: str) -> Entry:
        """Return an entry not sent yet from the whole of its id, or a piece.

        Raises:
            BadUsage: none, or more than one.
        """
        wanted = typed.strip().lower()
        found = [e for e in self.entries() if e.id.startswith(wanted) or e.id.endswith(wanted)]
        if len(wanted) >= _SHORTEST and len(found) == 1:
            return found[0]
        raise BadUsage(
            f"“{typed}” names no one thing in the outbox.", "mendpool outbox lists their ids."
        )

    def sending(self) -> AbstractContextManager[bool]:
        """Hold the right to send: one process at a time has it; yields whether it is ours."""
        return locked(self._lock, wait=False)

    def tidy(self, now_s: float) -> None:
        """Remove what a killed process left half written: it was never called saved.

        Args:
            now_s: seconds since 1970; younger than an hour is left, it may be in use.
        """
        for folder in (self._queue, self._sent):
            for part in folder.glob(f"{PART}*"):
                if now_s - part.stat().st_mtime > _PART_KEPT_S:
                    remove_durably(part)
        self._photos.tidy(now_s - _PART_KEPT_S)
        self._drop_photos_of_nothing(now_s - _PART_KEPT_S)

    def _drop_photos_of_nothing(self, older_than_s: float) -> None:
        held = self.entries()
        photos = [entry for entry in held if entry.kind == "photo"]
        known = {e.id for e in (*held, *self.sent())} if photos else set()
        for entry in photos:
            path = self._queue / f"{entry.id}.json"
            if entry.report not in known and path.stat().st_mtime < older_than_s:
                self._remove(entry)


def _entries(folder: Path) -> Iterator[Entry]:
    for path in sorted(folder.glob("*.json")) if folder.is_dir() else ():
        entry = _entry(path)
        if entry is not None:
            yield entry


def _entry(path: Path) -> Entry | None:
    """Read one file; None for one that is damaged, or moved away in the meantime."""
    try:
        found = read_object(path)
        entry = Entry(**found) if found is not None else None
    except (DamagedFile, TypeError):
        return None
    if entry is None or not _is_id(entry.id) or not _is_id(entry.report):
        return None
    return entry if path.stem == entry.id and isinstance(entry.body, str) else None


def _is_id(text: object) -> bool:
    try:
        return isinstance(text, str) and len(text) == 36 and bool(UUID(text))
    except ValueError:
        return False
