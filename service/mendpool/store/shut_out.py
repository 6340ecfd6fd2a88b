"""Whom a pool has shut out, and doing so again in a copy of it that knows nothing of it."""

from typing import NamedTuple

from sqlalchemy import Engine, delete, select, update

from mendpool.store.engine import reading, writing
from mendpool.store.reports import FORGOTTEN
from mendpool.store.tables import CORRECTION, INVITATION, MEMBER, SESSION


class ShutOut(NamedTuple):
    """A member whose token was stopped: since when, and as what if the name was forgotten."""

    member_id: int
    pseudonym: str
    revoked_at: object
    forgotten: str | None


def shut_out_here(pool: Engine) -> list[ShutOut]:
    """Return whom a pool has shut out.

    Raises:
        MendpoolError: it can't be read.
    """
    stopped = select(MEMBER).where(MEMBER.c.revoked_at.is_not(None))
    with reading(pool) as connection:
        rows = connection.execute(stopped).all()
    return [
        ShutOut(
            row.id,
            row.pseudonym,
            row.revoked_at,
            row.name if row.name == f"{FORGOTTEN} {row.id}" else None,
        )
        for row in rows
    ]


def shut_out_again(pool: Engine, out: list[ShutOut]) -> None:
    """Stop the same members in a pool that was put back, and sign every phone out.

    A phone signed in when the backup was made may have been signed out since, and nothing
    tells; so each asks its steward for a code, or signs in with its token.
    """
    with writing(pool) as connection:
        connection.execute(delete(SESSION))
        phones = INVITATION.c.member_id.is_not(None) & INVITATION.c.used_at.is_(None)
        connection.execute(delete(INVITATION).where(phones))
        for one in out:
            same = (MEMBER.c.id == one.member_id) & (MEMBER.c.pseudonym == one.pseudonym)
            held = connection.execute(select(MEMBER).where(same)).first()
            if held is None:
                continue
            values = {"revoked_at": held.revoked_at or one.revoked_at}
            if one.forgotten is not None and held.name != one.forgotten:
                values["name"] = one.forgotten
                mine = CORRECTION.c.member_id == one.member_id
                connection.execute(delete(CORRECTION).where(mine))
                connection.execute(delete(INVITATION).where(INVITATION.c.name == held.name))
            connection.execute(update(MEMBER).where(same).values(**values))
