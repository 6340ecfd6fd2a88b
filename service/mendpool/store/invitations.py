"""Invitations: a code that makes one member, once, and is kept only as a hash."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import NamedTuple

from sqlalchemy import bindparam, insert, select, update

from mendpool.core.errors import Conflict, NotFound
from mendpool.store.again import undone_again
from mendpool.store.members import insert_member
from mendpool.store.room import AnyRow, Room
from mendpool.store.tables import INVITATION, MEMBER
from mendpool.store.values import Member

_BY_PREFIX = select(INVITATION).where(INVITATION.c.code_prefix == bindparam("prefix"))
_OPEN = select(INVITATION.c.id).where(
    INVITATION.c.name == bindparam("name"),
    INVITATION.c.used_at.is_(None),
    INVITATION.c.expires_at > bindparam("now"),
)


@dataclass(frozen=True, slots=True)
class Invitation:
    """A code that makes one member, once.

    Args:
        name: what the new member will be called here.
        expires: when the code stops.
        vouched: whether the member's reports count fully from the first.
        token_days: how long the member's token is good; None is for good.
        used: when it was used, if it was.
    """

    name: str
    expires: datetime
    vouched: bool
    token_days: int | None
    used: datetime | None


class Token(NamedTuple):
    """What is kept of a token, and the pseudonym made with it."""

    sha256: str
    prefix: str
    pseudonym: str


class Invitations(Room):
    """Keeps the invitations."""

    @undone_again
    def add_invitation(
        self, invitation: Invitation, code_sha256: str, code_prefix: str, now: datetime
    ) -> None:
        """Keep an invitation.

        Raises:
            Conflict: a member has the name, or an open invitation does.
        """
        name = invitation.name
        with self._writing() as connection:
            named = select(MEMBER.c.id).where(MEMBER.c.name == name)
            if connection.execute(named).first() is not None:
                raise Conflict(f"a member is called {name} already")
            if connection.execute(_OPEN, {"name": name, "now": now}).first() is not None:
                raise Conflict(f"there is an open invitation for {name} already")
            connection.execute(
                insert(INVITATION).values(
                    name=name,
                    code_sha256=code_sha256,
                    code_prefix=code_prefix,
                    vouched=invitation.vouched,
                    token_days=invitation.token_days,
                    made_at=now,
                    expires_at=invitation.expires,
                )
            )

    def invitation_hash(self, code_prefix: str) -> str | None:
        """Return the hash of the code that begins so, used and expired ones too."""
        with self._reading() as connection:
            row = connection.execute(_BY_PREFIX, {"prefix": code_prefix}).first()
        return None if row is None else str(row.code_sha256)

    @undone_again
    def use_invitation(self, code_prefix: str, token: Token, now: datetime) -> Member:
        """Make the member of an invitation, and use it up in the same write.

        Raises:
            NotFound: it is unknown, used up or has expired.
            Conflict: its name was given to someone else meanwhile.
        """
        with self._writing() as connection:
            row = connection.execute(_BY_PREFIX, {"prefix": code_prefix}).first()
            if row is None or row.used_at is not None or row.expires_at <= now:
                raise NotFound
            days = row.token_days
            made = insert_member(
                connection,
                {
                    "name": row.name,
                    "role": "member",
                    "token_sha256": token.sha256,
                    "token_prefix": token.prefix,
                    "pseudonym": token.pseudonym,
                    "created_at": now,
                    "expires_at": None if days is None else now + timedelta(days=days),
                    "vouched": row.vouched,
                },
            )
            used = update(INVITATION).where(INVITATION.c.id == row.id)
            connection.execute(used.values(used_at=now, used_by=made.id))
            return made

    def list_invitations(self) -> list[Invitation]:
        """Return every invitation in the order they were made."""
        with self._reading() as connection:
            rows = connection.execute(select(INVITATION).order_by(INVITATION.c.id)).all()
        return [_invitation(row) for row in rows]


def _invitation(row: AnyRow) -> Invitation:
    return Invitation(row.name, row.expires_at, row.vouched, row.token_days, row.used_at)
