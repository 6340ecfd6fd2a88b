"""What stewards did with reports, and why. Lines are only added; no report's text is there."""

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any, Literal
from uuid import UUID

from sqlalchemy import Connection, insert, select

from mendpool.core.errors import NotFound
from mendpool.store.again import undone_again
from mendpool.store.room import Room
from mendpool.store.tables import JUDGEMENT, MEMBER, REPORT

if TYPE_CHECKING:
    from collections.abc import Mapping


Came = Literal["withdrawn", "kept"]


@dataclass(frozen=True, slots=True)
class Judgement:
    """What a steward did with a report: ``withdrawn`` or ``kept``, when and why.

    Args:
        name: the steward's, as the operator calls them.
        reason: in the steward's words; None where a route was used that takes none.
    """

    at: datetime
    name: str
    report_id: UUID
    came: Came
    reason: str | None


class Judgements(Room):
    """Keeps the audit trail."""

    @undone_again
    def keep_report(self, report_id: UUID, member_id: int, reason: str, now: datetime) -> None:
        """Note that a steward looked at a report and let it stand.

        Raises:
            NotFound: there is no such report, or it was taken back.
        """
        with self._writing() as connection:
            here = select(REPORT.c.id).where(
                REPORT.c.id == report_id, REPORT.c.withdrawn_at.is_(None)
            )
            if connection.execute(here).first() is None:
                raise NotFound
            add_judgement(connection, report_id, member_id, "kept", reason, now)

    def judgements(self) -> list[Judgement]:
        """Return the trail in the order it was written."""
        query = select(JUDGEMENT, MEMBER.c.name).join(
            MEMBER, MEMBER.c.id == JUDGEMENT.c.member_id
        )
        with self._reading() as connection:
            rows = connection.execute(query.order_by(JUDGEMENT.c.id)).all()
        return [Judgement(r.at, r.name, r.report_id, r.came, r.reason) for r in rows]


def add_judgement(
    connection: Connection,
    report_id: UUID,
    member_id: int,
    came: Came,
    reason: str | None,
    now: datetime,
) -> None:
    """Add a line to the trail within a write that is under way."""
    values: Mapping[str, Any] = {
        "at": now,
        "member_id": member_id,
        "report_id": report_id,
        "came": came,
        "reason": reason,
    }
    connection.execute(insert(JUDGEMENT).values(**values))
