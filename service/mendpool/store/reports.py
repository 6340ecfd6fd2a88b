"""Reports and follow-ups on their way in, and taken back again.

A report is put once and never altered. The same body under the same id is welcome any
number of times; another body is a conflict. Every transaction that writes runs alone (see
`engine`), so looking first and writing then is safe here; what waits is written together
(see `together`).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from sqlalchemy import Boolean, Connection, bindparam, delete, insert, or_, select, update

from mendpool.core.errors import Conflict, MendpoolError, NotAllowed, NotFound, Withdrawn
from mendpool.store.again import undone_again
from mendpool.store.judgements import add_judgement
from mendpool.store.lines import add_lines, last_number
from mendpool.store.members import shut_out
from mendpool.store.putting import put_all
from mendpool.store.report_rows import followup_of
from mendpool.store.room import AnyRow, Room
from mendpool.store.tables import (
    CORRECTION,
    FOLLOWUP,
    INVITATION,
    MEMBER,
    PARCEL,
    PHOTO,
    REPORT,
    REPORT_COMPONENT,
    REPORT_SYMPTOM,
)
from mendpool.store.together import one_by_one
from mendpool.store.values import (
    ChangeKind,
    NewReport,
    PutResult,
    StoredFollowup,
    StoredReport,
)

# Whose a report is decides the database, in the turn in which it is then changed.
_HELD = (
    select(
        REPORT,
        MEMBER.c.pseudonym,
        or_(
            REPORT.c.member_id == bindparam("asker"), bindparam("steward", type_=Boolean)
        ).label("may"),
    )
    .join(MEMBER, MEMBER.c.id == REPORT.c.member_id)
    .where(REPORT.c.id == bindparam("report_id"))
)
_HELD_FOLLOWUP = (
    select(FOLLOWUP, MEMBER.c.pseudonym)
    .join(MEMBER, MEMBER.c.id == FOLLOWUP.c.member_id)
    .where(FOLLOWUP.c.id == bindparam("followup_id"))
)
_HELD_OF = (
    select(REPORT.c.id, REPORT.c.seq)
    .where(REPORT.c.member_id == bindparam("member_id"), REPORT.c.withdrawn_at.is_(None))
    .order_by(REPORT.c.seq)
)
FORGOTTEN = "forgotten"
"""The name of a member who asked to be forgotten, with a number behind."""
_PSEUDONYM = select(MEMBER.c.pseudonym).where(MEMBER.c.id == bindparam("member_id"))
_ADD_FOLLOWUP = insert(FOLLOWUP)
_SET_CASE = (
    update(REPORT)
    .where(REPORT.c.id == bindparam("report_id"), REPORT.c.withdrawn_at.is_(None))
    .values(case_body=bindparam("made"), derived_version=bindparam("version"))
)


class ReportWriting(Room):
    """Puts reports and follow-ups, and takes reports back."""

    @undone_again
    def put_report(self, new: NewReport, now: datetime) -> PutResult[StoredReport]:
        """Keep a report and announce it in the feed.

        Returns:
            `created` True, or False with the stored report when the same member put the
            same before.

        Raises:
            Conflict: the id stands for another body, or for another member's report.
            Withdrawn: the report under this id was taken back.
            NotFound: there is no such member.
        """
        return self._write(put_all, (new, now))

    @undone_again
    def put_reports(
        self, reports: Sequence[NewReport], now: datetime
    ) -> list[PutResult[StoredReport]]:
        """Keep many reports in one transaction: all of them or, if one is refused, none."""
        kept: list[PutResult[StoredReport]] = []
        with self._writing() as connection:
            for outcome in put_all(connection, [(new, now) for new in reports]):
                if isinstance(outcome, MendpoolError):
                    raise outcome
                kept.append(outcome)
        return kept

    @undone_again
    def put_followup(  # noqa: PLR0913, PLR0917 - one argument each for what a follow-up brings along
        self,
        report_id: UUID,
        followup_id: UUID,
        member_id: int,
        steward: bool,  # noqa: FBT001 - a word of the trade at every call
        sameness: str,
        body: str,
        now: datetime,
    ) -> PutResult[StoredFollowup]:
        """Keep a follow-up to a report and announce it in the feed.

        Raises:
            NotFound: there is no such report or member.
            Withdrawn: the report was taken back.
            NotAllowed: the member neither sent the report nor is a steward.
            Conflict: the id stands for something else.
        """
        item = _Followed(report_id, followup_id, member_id, steward, sameness, body, now)
        return self._write(_FOLLOW_ALL, item)

    @undone_again
    def withdraw(
        self,
        report_id: UUID,
        member_id: int,
        steward: bool,  # noqa: FBT001 - a word of the trade at every call
        now: datetime,
        reason: str | None = None,
    ) -> bool:
        """Take a report back: erase all it said, keep its id, its number and the fact.

        Call `erase_remnants` afterwards, when the file has a quiet moment, and make the
        next fit: the old one learned from this report too. A steward who takes back what
        someone else wrote leaves a line in the trail (see `judgements`).

        Args:
            reason: why a steward does it.

        Returns:
            True when it was taken back now, False when it was already.

        Raises:
            NotFound: there is no such report.
            NotAllowed: the member neither sent it nor is a steward.
        """
        return self._write(_WITHDRAW_ALL, _Taken(report_id, member_id, steward, now, reason))

    @undone_again
    def forget_member(self, name: str, now: datetime) -> int:
        """Take back all that a member filed, stop the token and drop the name, in one write.

        The row stays without a name: what was taken back must not come back by a parcel.
        What a steward added to other people's reports stays with those.

        Returns:
            How many reports were taken back now.

        Raises:
            NotFound: there is no member of that name.
        """
        with self._writing() as connection:
            member = connection.execute(select(MEMBER).where(MEMBER.c.name == name)).first()
            if member is None:
                raise NotFound(f"no member is called {name}")
            held = connection.execute(_HELD_OF, {"member_id": member.id}).all()
            first = last_number(connection) + 1
            for report in held:
                erase(connection, report, member.id, now)
            lines: list[tuple[int, ChangeKind, str]] = [
                (first + n, "withdrawal", str(report.id)) for n, report in enumerate(held)
            ]
            if lines:
                add_lines(connection, lines, now)
            connection.execute(
                update(MEMBER)
                .where(MEMBER.c.id == member.id)
                .values(name=f"{FORGOTTEN} {member.id}", revoked_at=member.revoked_at or now)
            )
            shut_out(connection, member.id)
            connection.execute(delete(CORRECTION).where(CORRECTION.c.member_id == member.id))
            # The invitation has the name as well.
            connection.execute(delete(INVITATION).where(INVITATION.c.name == name))
            return len(held)

    @undone_again
    def set_cases(self, cases: Sequence[tuple[UUID, str]], derived_version: str) -> None:
        """Replace derived forms, each ``(report_id, case_body)``; the feed says nothing.

        Reports that are gone or taken back meanwhile are passed over.
        """
        if not cases:
            return
        rows = [
            {"report_id": report_id, "made": made, "version": derived_version}
            for report_id, made in cases
        ]
        with self._writing() as connection:
            connection.execute(_SET_CASE, rows)


@dataclass(frozen=True, slots=True)
class _Followed:
    report_id: UUID
    followup_id: UUID
    member_id: int
    steward: bool
    sameness: str
    body: str
    now: datetime


@dataclass(frozen=True, slots=True)
class _Taken:
    report_id: UUID
    member_id: int
    steward: bool
    now: datetime
    reason: str | None = None


def _follow(connection: Connection, new: _Followed) -> PutResult[StoredFollowup]:
    report = _held(connection, new)
    if report.withdrawn_at is not None:
        raise Withdrawn
    if not report.may:
        raise NotAllowed
    held = connection.execute(_HELD_FOLLOWUP, {"followup_id": new.followup_id}).first()
    if held is not None:
        asked = (new.report_id, new.member_id, new.sameness)
        if (held.report_id, held.member_id, held.sameness) != asked:
            raise Conflict
        return PutResult(created=False, record=followup_of(held))
    kept = StoredFollowup(
        new.followup_id,
        last_number(connection) + 1,
        new.report_id,
        new.member_id,
        _pseudonym(connection, new.member_id),
        new.now,
        new.body,
    )
    connection.execute(
        _ADD_FOLLOWUP,
        {
            "id": new.followup_id,
            "seq": kept.seq,
            "report_id": new.report_id,
            "member_id": new.member_id,
            "received_at": new.now,
            "sameness": new.sameness,
            "body": new.body,
        },
    )
    add_lines(connection, [(kept.seq, "followup", str(new.followup_id))], new.now)
    return PutResult(created=True, record=kept)


def _withdraw(connection: Connection, taken: _Taken) -> bool:
    report = _held(connection, taken)
    if not report.may:
        raise NotAllowed
    if report.withdrawn_at is not None:
        return False
    erase(connection, report, taken.member_id, taken.now)
    seq = last_number(connection) + 1
    add_lines(connection, [(seq, "withdrawal", str(taken.report_id))], taken.now)
    if report.member_id != taken.member_id or taken.reason is not None:
        who, why = taken.member_id, taken.reason
        add_judgement(connection, taken.report_id, who, "withdrawn", why, taken.now)
    return True


_FOLLOW_ALL = one_by_one(_follow)
_WITHDRAW_ALL = one_by_one(_withdraw)


def _held(connection: Connection, asked: _Followed | _Taken) -> AnyRow:
    values = {
        "report_id": asked.report_id,
        "asker": asked.member_id,
        "steward": asked.steward,
    }
    held = connection.execute(_HELD, values).first()
    if held is None:
        raise NotFound
    return held


def _pseudonym(connection: Connection, member_id: int) -> str:
    pseudonym = connection.execute(_PSEUDONYM, {"member_id": member_id}).scalar()
    if pseudonym is None:
        raise NotFound
    return str(pseudonym)


def erase(connection: Connection, report: AnyRow, by: int, now: datetime) -> None:
    """Erase all a report said within a write that is under way; its number stays."""
    # Also what came of it from other pools, word for word.
    for belongs in (FOLLOWUP, PARCEL, PHOTO):
        connection.execute(delete(belongs).where(belongs.c.report_id == report.id))
    for filters in (REPORT_SYMPTOM, REPORT_COMPONENT):
        connection.execute(delete(filters).where(filters.c.report_seq == report.seq))
    connection.execute(
        update(REPORT)
        .where(REPORT.c.id == report.id)
        .values(
            sameness=None,
            body=None,
            case_body=None,
            derived_version=None,
            fuel=None,
            excitation=None,
            outcome=None,
            happened=None,
            withdrawn_at=now,
            withdrawn_by=by,
        )
    )
