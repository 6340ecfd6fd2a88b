"""Photographs of reports: kept in the database, by the hash of their bytes.

In the database and not in a folder beside it, since then a backup, a move and a withdrawal
take them along in the same transaction as their report; at six of 400 kB a report at most
that is what a database can carry. They are in no feed, so no copy and no parcel has them.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import ColumnElement, Connection, Select, bindparam, func, insert, select

from mendpool.core.errors import (
    Conflict,
    NotAllowed,
    NotFound,
    TooManyOf,
    Withdrawn,
)
from mendpool.store.again import undone_again
from mendpool.store.room import AnyRow, Room
from mendpool.store.tables import PHOTO, REPORT
from mendpool.store.together import one_by_one

_REPORT = select(REPORT.c.member_id, REPORT.c.withdrawn_at).where(
    REPORT.c.id == bindparam("report_id")
)
_TOLD = (PHOTO.c.id, PHOTO.c.sha256, PHOTO.c.width, PHOTO.c.height, PHOTO.c.size)
_OF_REPORT = (
    select(*_TOLD)
    .where(PHOTO.c.report_id == bindparam("report_id"))
    .order_by(PHOTO.c.received_at, PHOTO.c.id)
)
_OF_REPORTS = (
    select(PHOTO.c.report_id, *_TOLD)
    .where(PHOTO.c.report_id.in_(bindparam("report_ids", expanding=True)))
    .order_by(PHOTO.c.received_at, PHOTO.c.id)
)
_SAME_ID = select(PHOTO).where(PHOTO.c.id == bindparam("photo_id"))
_OF_MEMBER = (
    select(func.count())
    .select_from(PHOTO)
    .where(
        PHOTO.c.member_id == bindparam("member_id"), PHOTO.c.received_at >= bindparam("since")
    )
)


def _one(which: ColumnElement[bool]) -> Select[Any]:
    """Return what finds a report and, if it is there, one photograph of it."""
    both = REPORT.outerjoin(PHOTO, (PHOTO.c.report_id == REPORT.c.id) & which)
    found = select(REPORT.c.withdrawn_at, *_TOLD, PHOTO.c.body).select_from(both)
    return found.where(REPORT.c.id == bindparam("report_id"))


_BY_ID = _one(PHOTO.c.id == bindparam("photo_id"))
_BY_HASH = _one(PHOTO.c.sha256 == bindparam("sha256"))


@dataclass(frozen=True, slots=True)
class NewPhoto:
    """A photograph on its way in, made again by the service.

    Args:
        photo_id: the id its client made.
        report_id: the report it belongs to.
        member_id: who sends it.
        sameness: equal for equal bytes as received.
        sha256: of `body`.
        width, height: in points.
        body: a JPEG.
    """

    photo_id: UUID
    report_id: UUID
    member_id: int
    sameness: str
    sha256: str
    width: int
    height: int
    body: bytes


@dataclass(frozen=True, slots=True)
class HeldPhoto:
    """What is told of a photograph without its bytes; `size` counts them."""

    id: UUID
    sha256: str
    width: int
    height: int
    size: int


class Photos(Room):
    """Keeps photographs with their reports."""

    @undone_again
    def put_photo(
        self, new: NewPhoto, most: int, most_a_day: int, now: datetime
    ) -> tuple[bool, HeldPhoto]:
        """Keep a photograph of a report, for the report's contributor alone.

        Args:
            new: what to keep.
            most: how many one report may have.
            most_a_day: how many one member may send in the day of `now`, in UTC.
            now: aware.

        Returns:
            Whether it was kept now, and it; the very same picture of that report, under this
            or another id, is there already and is returned as it is.

        Raises:
            NotFound: there is no such report.
            Withdrawn: it was taken back.
            NotAllowed: it is another's report.
            Conflict: the id stands for something else, or the report has `most` of them.
            TooManyOf: enough for one day.
        """
        return self._write(_PUT_ALL, _Put(new, most, most_a_day, now))

    def photos_of(self, report_id: UUID) -> list[HeldPhoto]:
        """Return what there is to a report, without the bytes, in the order they came."""
        with self._reading() as connection:
            return [
                held_photo(r) for r in connection.execute(_OF_REPORT, {"report_id": report_id})
            ]

    def photos_of_all(self, report_ids: Sequence[UUID]) -> dict[UUID, list[HeldPhoto]]:
        """Return the same for some reports at once; those without any are left out."""
        found: dict[UUID, list[HeldPhoto]] = {}
        if report_ids:
            with self._reading() as connection:
                for row in connection.execute(_OF_REPORTS, {"report_ids": list(report_ids)}):
                    found.setdefault(row.report_id, []).append(held_photo(row))
        return found

    def get_photo(self, report_id: UUID, known_as: UUID | str) -> tuple[HeldPhoto, bytes]:
        """Return a photograph by its id or the hash of its bytes.

        Raises:
            NotFound: there is none of that report.
            Withdrawn: the report was taken back.
        """
        by_id = isinstance(known_as, UUID)
        query, name = (_BY_ID, "photo_id") if by_id else (_BY_HASH, "sha256")
        values = {"report_id": report_id, name: known_as}
        with self._reading() as connection:
            row = connection.execute(query, values).first()
        if row is not None and row.withdrawn_at is not None:
            raise Withdrawn
        if row is None or row.body is None:
            raise NotFound
        return held_photo(row), bytes(row.body)


@dataclass(frozen=True, slots=True)
class _Put:
    new: NewPhoto
    most: int
    most_a_day: int
    now: datetime


def _put(connection: Connection, asked: _Put) -> tuple[bool, HeldPhoto]:
    new = asked.new
    _check_owner(connection, new)
    same = connection.execute(_SAME_ID, {"photo_id": new.photo_id}).first()
    if same is not None:
        if (same.report_id, same.sameness) != (new.report_id, new.sameness):
            raise Conflict
        return False, held_photo(same)
    held = connection.execute(_OF_REPORT, {"report_id": new.report_id}).all()
    for row in held:
        if row.sha256 == new.sha256:
            return False, held_photo(row)
    if len(held) >= asked.most:
        raise TooManyOf(f"A report has at most {asked.most} photographs.", for_good=True)
    since = asked.now.replace(hour=0, minute=0, second=0, microsecond=0)
    sent = connection.execute(_OF_MEMBER, {"member_id": new.member_id, "since": since})
    if sent.scalar_one() >= asked.most_a_day:
        raise TooManyOf("Enough photographs for one day.", for_good=False)
    kept = HeldPhoto(new.photo_id, new.sha256, new.width, new.height, len(new.body))
    connection.execute(
        insert(PHOTO),
        {
            "id": new.photo_id,
            "report_id": new.report_id,
            "member_id": new.member_id,
            "received_at": asked.now,
            "sameness": new.sameness,
            "sha256": new.sha256,
            "width": new.width,
            "height": new.height,
            "size": len(new.body),
            "body": new.body,
        },
    )
    return True, kept


def _check_owner(connection: Connection, new: NewPhoto) -> None:
    report = connection.execute(_REPORT, {"report_id": new.report_id}).first()
    if report is None:
        raise NotFound
    if report.member_id != new.member_id:
        raise NotAllowed
    if report.withdrawn_at is not None:
        raise Withdrawn


_PUT_ALL = one_by_one(_put)


def held_photo(row: AnyRow) -> HeldPhoto:
    """Make the value of a row that tells of a photograph."""
    return HeldPhoto(row.id, row.sha256, row.width, row.height, row.size)
