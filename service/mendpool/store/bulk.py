"""Many reports and their follow-ups in one transaction, as an import brings them."""

from collections.abc import Sequence
from datetime import datetime
from uuid import UUID

from sqlalchemy import Connection, bindparam, insert, select

from mendpool.core.errors import MendpoolError
from mendpool.store.lines import add_lines, last_number
from mendpool.store.putting import put_all
from mendpool.store.room import Room
from mendpool.store.tables import FOLLOWUP, REPORT
from mendpool.store.values import Bulked, ChangeKind, HeldFollowup, NewFollowup, NewReport

_OWNERS = select(REPORT.c.id, REPORT.c.member_id).where(
    REPORT.c.id.in_(bindparam("some", expanding=True)), REPORT.c.withdrawn_at.is_(None)
)
_HELD = select(
    FOLLOWUP.c.id, FOLLOWUP.c.report_id, FOLLOWUP.c.member_id, FOLLOWUP.c.sameness
).where(FOLLOWUP.c.id.in_(bindparam("some", expanding=True)))
_ADD = insert(FOLLOWUP)

Followed = tuple[NewReport, Sequence[NewFollowup]]


class Bulk(Room):
    """Puts by the hundred: the same statements however many there are."""

    def put_bulk(
        self,
        reports: Sequence[Followed],
        more: Sequence[NewFollowup],
        now: datetime,
    ) -> Bulked:
        """Keep reports and follow-ups; a report that is refused is refused alone.

        A follow-up is kept where its report is held and its contributor's, and where nothing
        has its id yet; any other is passed over.

        Args:
            reports: each with its follow-ups, which are passed over where it is refused.
            more: follow-ups of reports that are there already.
        """
        with self._writing() as connection:
            outcomes = put_all(connection, [(report, now) for report, _ in reports])
            followups = [
                followup
                for (_, some), outcome in zip(reports, outcomes, strict=True)
                if not isinstance(outcome, MendpoolError)
                for followup in some
            ]
            followed = _follow(connection, [*followups, *more], now)
        return Bulked(
            [o if isinstance(o, MendpoolError) else o.created for o in outcomes], followed
        )

    def held_followups(self, followup_ids: Sequence[UUID]) -> dict[UUID, HeldFollowup]:
        """Return of each follow-up that is held whose it is, to what, and its sameness."""
        if not followup_ids:
            return {}
        with self._reading() as connection:
            return _held(connection, followup_ids)


def _held(connection: Connection, followup_ids: Sequence[UUID]) -> dict[UUID, HeldFollowup]:
    rows = connection.execute(_HELD, {"some": list(followup_ids)})
    return {row.id: HeldFollowup(row.report_id, row.member_id, row.sameness) for row in rows}


def _follow(connection: Connection, followups: Sequence[NewFollowup], now: datetime) -> int:
    if not followups:
        return 0
    report_ids = list({new.report_id for new in followups})
    rows = connection.execute(_OWNERS, {"some": report_ids})
    owners = {row.id: row.member_id for row in rows}
    there = set(_held(connection, [new.followup_id for new in followups]))
    seq = last_number(connection)
    fresh: list[dict[str, object]] = []
    lines: list[tuple[int, ChangeKind, str]] = []
    for new in followups:
        if owners.get(new.report_id) != new.member_id or new.followup_id in there:
            continue
        there.add(new.followup_id)
        seq += 1
        fresh.append(
            {
                "id": new.followup_id,
                "seq": seq,
                "report_id": new.report_id,
                "member_id": new.member_id,
                "received_at": now,
                "sameness": new.sameness,
                "body": new.body,
            }
        )
        lines.append((seq, "followup", str(new.followup_id)))
    if fresh:
        connection.execute(_ADD, fresh)
        add_lines(connection, lines, now)
    return len(fresh)
