"""Take a parcel in (see `parcels_out` for what one is), some hundred lines a transaction.

A line that stands here word for word already is passed over unread, so that a parcel that is
read again costs little.
"""

import gzip
import hashlib
import json
import re
import zlib
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import IO, Any
from uuid import UUID

from pydantic import ValidationError

from mendpool.core.catalogue.codes import check_followup
from mendpool.core.errors import MendpoolError, RefusedInput
from mendpool.core.privacy.coarse import coarse_report
from mendpool.core.record.report import Followup, Report
from mendpool.store.parcels import Author, Taken
from mendpool.store.values import Arrival, ForeignLine, Member
from mendpool.usecases.file_report import check_month, new_report
from mendpool.usecases.parcels_out import line_text
from mendpool.usecases.workplace import Workplace

_BATCH = 500
_BATCH_BYTES = 4 * 1024 * 1024
_LINE_MOST = 512 * 1024
_AUTHOR = re.compile(r"[0-9a-f]{16}")
_UUID_7 = 7
_NOBODY = "0" * 16
_FIELDS = {
    "report": {"kind", "id", "origin", "author", "body"},
    "followup": {"kind", "id", "report", "origin", "author", "body"},
    "withdrawal": {"kind", "id", "origin"},
}


@dataclass(slots=True)
class Read:
    """What became of the lines of a parcel.

    Args:
        taken: how many came to what (`new`, `unchanged`, `own`, `withdrawn`, `early`).
        left_out: lines that could not be used.
        whole: its last line was there and agreed.
        gone: something was taken back.
    """

    taken: Counter[Taken] = field(default_factory=Counter)
    left_out: int = 0
    whole: bool = False
    gone: bool = False

    @property
    def lines(self) -> int:
        """How many lines were read."""
        return self.taken.total() + self.left_out


class BadParcelError(MendpoolError):
    """It is no parcel at all."""


class TooMuchError(MendpoolError):
    """Unpacked it is more than may be."""


@dataclass(frozen=True, slots=True)
class _Checked:
    """A line that is one in all its parts; what it says of the repair is not looked at yet."""

    line: ForeignLine
    author: Author
    body: Any


class _UnusableError(ValueError):
    pass


def read_parcel(place: Workplace, lines: Iterable[bytes], now: datetime) -> Iterator[Read]:
    """Take the lines of a parcel in, giving how far it is now and then; the last is final.

    Read twice, in any order, partly or back in its own pool, it changes nothing further.

    Raises:
        BadParcelError: nothing of it could be used.
    """
    taking = _Taking(place, now)
    done = taking.done
    digest = hashlib.sha256()
    batch: list[bytes] = []
    size = 0
    for before, raw in enumerate(lines):
        text = raw.rstrip(b"\r\n")
        end = _end_of(text)
        if end is not None:
            done.whole = (end["lines"], end["sha256"]) == (before, digest.hexdigest())
            break
        digest.update(text)
        batch.append(text)
        size += len(text)
        if len(batch) == _BATCH or size > _BATCH_BYTES:
            taking.take(batch)
            batch, size = [], 0
            yield done
    taking.take(batch)
    if not done.taken and not done.whole:
        raise BadParcelError("This is no parcel, or nothing of it can be used.")
    if done.gone:
        place.learned.fit_if_due(now, at_once=True, then=place.store.erase_remnants)
    elif done.taken["new"]:
        place.learned.fit_if_due(now)
    yield done


def unpacked(held: IO[bytes], most: int | None = None) -> Iterator[bytes]:
    """Unpack the lines as far as they go; a parcel that breaks off gives what it has.

    Args:
        most: bytes that may come of it; None for any number.

    Raises:
        TooMuchError: more came of it, after the lines until there.
    """
    read = 0
    with gzip.GzipFile(fileobj=held, mode="rb") as packed:
        while True:
            try:
                line = packed.readline(1 << 20)
            except (EOFError, zlib.error, gzip.BadGzipFile):
                return
            read += len(line)
            if most is not None and read > most:
                raise TooMuchError
            if not line:
                return
            yield line


class _Taking:
    """Takes batches of lines; keeps the authors it met."""

    def __init__(self, place: Workplace, now: datetime) -> None:
        self.done = Read()
        self._place = place
        self._now = now
        self._own_pool = str(place.store.pool_settings().pool_id)
        self._authors: dict[Author, Member] = {}

    def take(self, texts: Sequence[bytes]) -> None:
        """Take lines in, in their order, as one transaction."""
        checked = []
        for text in texts:
            try:
                line = _checked(text)
            except _UnusableError:
                self.done.left_out += 1
                continue
            if line.line.origin == self._own_pool:
                self.done.taken["own"] += 1
            else:
                checked.append(line)
        arrivals = self._ready(self._not_held(checked))
        if not arrivals:
            return
        for arrival, taken in zip(
            arrivals, self._place.store.take_lines(arrivals, self._now), strict=True
        ):
            self.done.taken[taken] += 1
            if arrival.line.kind == "withdrawal" and taken == "new":
                self.done.gone = True

    def _not_held(self, checked: Sequence[_Checked]) -> list[_Checked]:
        """Leave out what is here already, word for word."""
        kept = self._place.store.hashes_kept([c.line.id for c in checked])
        differs = [c for c in checked if kept.get(c.line.id) != c.line.sha256]
        # A report that is replaced or taken back takes what follows it along: read that too.
        moved = {c.line.report_id for c in differs if c.line.kind != "followup"}
        found = [
            c
            for c in checked
            if kept.get(c.line.id) != c.line.sha256 or c.line.report_id in moved
        ]
        if len(found) < len(checked):
            self.done.taken["unchanged"] += len(checked) - len(found)
        return found

    def _ready(self, checked: Sequence[_Checked]) -> list[Arrival]:
        self._meet([c.author for c in checked if c.line.kind != "withdrawal"])
        arrivals = []
        for line in checked:
            try:
                arrivals.append(self._arrival(line))
            except (_UnusableError, RefusedInput, ValidationError):
                self.done.left_out += 1
        return arrivals

    def _meet(self, authors: Sequence[Author]) -> None:
        strangers = [author for author in dict.fromkeys(authors) if author not in self._authors]
        if strangers:
            self._authors |= self._place.store.authors(strangers, self._now)

    def _arrival(self, checked: _Checked) -> Arrival:
        line, body = checked.line, checked.body
        if line.kind == "withdrawal":
            return Arrival(line)
        author = self._authors[checked.author]
        if line.kind == "followup":
            followup = Followup.model_validate(body)
            check_followup(followup, self._place.catalogue)
            if set(body) != {"happened", "state"}:
                raise _UnusableError("finer than a parcel may be")
            check_month("/happened", followup.happened, self._now)
            kept = followup.model_dump_json(exclude_unset=True)
            return Arrival(line, member_id=author.id, body=kept)
        report = Report.model_validate(body)
        if coarse_report(body) != body:
            raise _UnusableError("finer than a parcel may be")
        return Arrival(line, new_report(self._place, author, line.id, body, report, self._now))


def _checked(text: bytes) -> _Checked:
    """Return a line and what it is, if it is one in all its parts and in its one spelling."""
    if len(text) > _LINE_MOST:
        raise _UnusableError("longer than a line can be")
    try:
        line = json.loads(text.decode())
        kind = line["kind"]
        line_id, origin = UUID(line["id"]), UUID(line["origin"])
        report_id = UUID(line["report"]) if kind == "followup" else line_id
        again = line_text(line)
        # One spelling only, or the same line would have two hashes.
        one_form = set(line) == _FIELDS.get(kind) and again.encode() == text
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        raise _UnusableError("not a line of a parcel") from None
    if not one_form:
        raise _UnusableError("not in the one form a line has")
    if line_id.version != _UUID_7 or report_id.version != _UUID_7:
        raise _UnusableError("no UUIDv7")
    author = str(line.get("author", _NOBODY))
    if not _AUTHOR.fullmatch(author):
        raise _UnusableError("no author")
    sha256 = hashlib.sha256(text).hexdigest()
    found = ForeignLine(line_id, kind, str(origin), report_id, sha256, again)
    return _Checked(found, (str(origin), author), line.get("body"))


def _end_of(text: bytes) -> dict[str, Any] | None:
    if not text.startswith(b'{"lines":'):
        return None
    try:
        end = json.loads(text)
    except ValueError:
        return None
    return end if isinstance(end, dict) and {"lines", "sha256", "parcel"} <= set(end) else None
