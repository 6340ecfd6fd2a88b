"""From rows of reports and follow-ups to the values that leave the room."""

from collections.abc import Mapping, Sequence
from uuid import UUID

from sqlalchemy import Connection, bindparam, select

from mendpool.store.room import AnyRow
from mendpool.store.tables import FOLLOWUP, MEMBER
from mendpool.store.values import StoredFollowup, StoredReport

_FOLLOWUPS = (
    select(
        FOLLOWUP.c.id,
        FOLLOWUP.c.seq,
        FOLLOWUP.c.report_id,
        FOLLOWUP.c.member_id,
        MEMBER.c.pseudonym,
        FOLLOWUP.c.received_at,
        FOLLOWUP.c.body,
    )
    .join(MEMBER, MEMBER.c.id == FOLLOWUP.c.member_id)
    .where(FOLLOWUP.c.report_id.in_(bindparam("report_ids", expanding=True)))
    .order_by(FOLLOWUP.c.seq)
)

Followups = Mapping[UUID, tuple[StoredFollowup, ...]]


def followups_of(connection: Connection, report_ids: Sequence[UUID]) -> Followups:
    """Return the follow-ups of each report, in the order they came, in one query."""
    found: dict[UUID, tuple[StoredFollowup, ...]] = {}
    if report_ids:
        for row in connection.execute(_FOLLOWUPS, {"report_ids": list(report_ids)}):
            found[row.report_id] = (*found.get(row.report_id, ()), followup_of(row))
    return found


def followup_of(row: AnyRow) -> StoredFollowup:
    """Make the value of a row of `followup` that has its contributor's `pseudonym`."""
    return StoredFollowup(
        id=row.id,
        seq=row.seq,
        report_id=row.report_id,
        member_id=row.member_id,
        pseudonym=row.pseudonym,
        received=row.received_at,
        body=row.body,
    )


def report_of(row: AnyRow, followups: Followups) -> StoredReport:
    """Make the value of a row of `report` that has its contributor's `pseudonym`."""
    return StoredReport(
        id=row.id,
        seq=row.seq,
        member_id=row.member_id,
        pseudonym=row.pseudonym,
        received=row.received_at,
        body=row.body,
        followups=followups.get(row.id, ()),
    )
