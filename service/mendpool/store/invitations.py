"""Codes, good once and kept only as a hash: to become a member, or for a member's new phone."""

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import NamedTuple

from sqlalchemy import Connection, bindparam, delete, insert, select, update

from mendpool.core.errors import Conflict, NotFound
from mendpool.store.again import undone_again
from mendpool.store.members import insert_member, member_of, shut_out
from mendpool.store.room import AnyRow, Room
from mendpool.store.sessions import Kept, Session, begin_session
from mendpool.store.tables import INVITATION, MEMBER
from mendpool.store.values import Member

_BY_PREFIX = select(INVITATION).where(INVITATION.c.code_prefix == bindparam("prefix"))
_OPEN = select(INVITATION.c.id).where(
    INVITATION.c.name == bindparam("name"),
    INVITATION.c.member_id.is_(None),
    INVITATION.c.used_at.is_(None),
    INVITATION.c.expires_at > bindparam("now"),
)


@dataclass(frozen=True, slots=True)
class Invitation:
    """A code that makes one member, once, or signs one in who is there.

    Args:
        name: what the new member will be called here, or is.
        expires: when the code stops.
        vouched: whether the member's reports count fully from the first.
        token_days: how long the member's token is good; None is for good.
        used: when it was used, if it was.
        of_member: it signs in the member of that name and makes nobody.
        made: when it was made.
        made_by: who made it from the page; None where the operator did.
    """

    name: str
    expires: datetime
    vouched: bool
    token_days: int | None
    used: datetime | None
    of_member: bool = False
    made: datetime | None = None
    made_by: int | None = None


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
            _keep_code(connection, invitation, (code_sha256, code_prefix), now)

    def invitation_hash(self, code_prefix: str) -> str | None:
        """Return the hash of the code that begins so, used and expired ones too."""
        with self._reading() as connection:
            row = connection.execute(_BY_PREFIX, {"prefix": code_prefix}).first()
        return None if row is None else str(row.code_sha256)

    @undone_again
    def add_member_code(
        self, code: Invitation, code_sha256: str, code_prefix: str, now: datetime
    ) -> None:
        """Keep a code that signs a member in; one made before and not used is no longer good.

        Raises:
            NotFound: there is no member of that name.
            Conflict: the member's token was revoked.
        """
        with self._writing() as connection:
            named = select(MEMBER).where(MEMBER.c.name == code.name)
            member = connection.execute(named).first()
            if member is None:
                raise NotFound(f"no member is called {code.name}")
            if member.revoked_at is not None:
                raise Conflict(f"{code.name}'s token was revoked")
            mine = INVITATION.c.member_id == member.id
            connection.execute(delete(INVITATION).where(mine, INVITATION.c.used_at.is_(None)))
            own = replace(code, vouched=member.vouched)
            _keep_code(connection, own, (code_sha256, code_prefix), now, member.id)

    @undone_again
    def use_invitation(self, code_prefix: str, token: Token, now: datetime) -> Member:
        """Make the member of an invitation, and use it up in the same write.

        Raises:
            NotFound: it is unknown, used up, has expired or signs someone in.
            Conflict: its name was given to someone else meanwhile.
        """
        with self._writing() as connection:
            row = _open_code(connection, code_prefix, now)
            if row.member_id is not None:
                raise NotFound
            return _made_by(connection, row, token, now)

    @undone_again
    def use_code(
        self,
        code_prefix: str,
        token: Token,
        new: Session,
        earlier: Kept | None = None,
    ) -> Member:
        """Use up a code of either kind and sign a browser in, in one write.

        Whose token has run out begins a new term by the code, with a token that nobody has
        seen: the steward who gave the code meant them to go on, and the old token stays dead.

        Args:
            code_prefix: of the code.
            token: for a member who is made now, or whose term begins anew.
            new: the session to begin.
            earlier: see `Sessions.add_session`.

        Raises:
            NotFound: it is unknown, used up or has expired, or its member was revoked.
            Conflict: its name was given to someone else meanwhile.
        """
        now = new.made
        with self._writing() as connection:
            row = _open_code(connection, code_prefix, now)
            if row.member_id is None:
                member = _made_by(connection, row, token, now)
            else:
                member = _signed_in_by(connection, row, token, now)
            begin_session(connection, member.id, new, earlier)
            return member

    def list_invitations(self) -> list[Invitation]:
        """Return every invitation in the order they were made."""
        with self._reading() as connection:
            rows = connection.execute(select(INVITATION).order_by(INVITATION.c.id)).all()
        return [_invitation(row) for row in rows]


def _keep_code(
    connection: Connection,
    invitation: Invitation,
    code: tuple[str, str],
    now: datetime,
    member_id: int | None = None,
) -> None:
    """Keep a code by its hash and its readable beginning; a member's, or one that makes one."""
    sha256, prefix = code
    connection.execute(
        insert(INVITATION).values(
            name=invitation.name,
            code_sha256=sha256,
            code_prefix=prefix,
            vouched=invitation.vouched,
            token_days=invitation.token_days,
            made_at=now,
            expires_at=invitation.expires,
            made_by=invitation.made_by,
            member_id=member_id,
        )
    )


def _invitation(row: AnyRow) -> Invitation:
    return Invitation(
        name=row.name,
        expires=row.expires_at,
        vouched=row.vouched,
        token_days=row.token_days,
        used=row.used_at,
        of_member=row.member_id is not None,
        made=row.made_at,
        made_by=row.made_by,
    )


def _open_code(connection: Connection, prefix: str, now: datetime) -> AnyRow:
    row = connection.execute(_BY_PREFIX, {"prefix": prefix}).first()
    if row is None or row.used_at is not None or row.expires_at <= now:
        raise NotFound
    return row


def _made_by(connection: Connection, row: AnyRow, token: Token, now: datetime) -> Member:
    made = insert_member(
        connection,
        {
            "name": row.name,
            "role": "member",
            "token_sha256": token.sha256,
            "token_prefix": token.prefix,
            "pseudonym": token.pseudonym,
            "created_at": now,
            "expires_at": _term(row, now),
            "vouched": row.vouched,
        },
    )
    _use_up(connection, row, made.id, now)
    return made


def _signed_in_by(connection: Connection, row: AnyRow, token: Token, now: datetime) -> Member:
    of = select(MEMBER).where(MEMBER.c.id == row.member_id)
    held = connection.execute(of).one()
    if held.revoked_at is not None:
        raise NotFound
    _use_up(connection, row, held.id, now)
    if held.expires_at is not None and held.expires_at <= now:
        fresh = {
            "token_sha256": token.sha256,
            "token_prefix": token.prefix,
            "expires_at": _term(row, now),
        }
        connection.execute(update(MEMBER).where(MEMBER.c.id == held.id).values(**fresh))
        shut_out(connection, held.id)
        held = connection.execute(of).one()
    return member_of(held)


def _use_up(connection: Connection, row: AnyRow, member_id: int, now: datetime) -> None:
    used = update(INVITATION).where(INVITATION.c.id == row.id)
    connection.execute(used.values(used_at=now, used_by=member_id))


def _term(row: AnyRow, now: datetime) -> datetime | None:
    return None if row.token_days is None else now + timedelta(days=row.token_days)
