"""Members: who may read and write, and the hash of the token they show."""

import hashlib
import hmac
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from sqlalchemy import (
    Connection,
    Engine,
    Select,
    bindparam,
    delete,
    insert,
    or_,
    select,
    update,
)

from mendpool.core.errors import Conflict, NotFound
from mendpool.store.again import undone_again
from mendpool.store.direct import Asked
from mendpool.store.engine import looking_up
from mendpool.store.pool import pool_key
from mendpool.store.room import AnyRow, Room
from mendpool.store.tables import INVITATION, MEMBER, SESSION
from mendpool.store.together import one_by_one
from mendpool.store.values import FOREIGN_PSEUDONYM, Member, Role

_GROUP_BITS = 48  # stays exact where every number is a double

_MEMBERS = select(MEMBER)
_BY_PREFIX = Asked(_MEMBERS.where(MEMBER.c.token_prefix == bindparam("prefix")))
_TOUCH = (
    update(MEMBER)
    .where(
        MEMBER.c.id == bindparam("one"),
        or_(MEMBER.c.last_used_at.is_(None), MEMBER.c.last_used_at < bindparam("day")),
    )
    .values(last_used_at=bindparam("day"))
)


class Members(Room):
    """Keeps the members."""

    def __init__(self, engine: Engine) -> None:
        """Stand on `engine`, as `make_engine` made it."""
        super().__init__(engine)
        self._touched: dict[int, datetime] = {}

    @undone_again
    def add_member(  # noqa: PLR0913, PLR0917 - one argument each for what makes a member
        self,
        name: str,
        role: Role,
        token_sha256: str,
        token_prefix: str,
        pseudonym: str,
        now: datetime,
        expires_at: datetime | None = None,
        vouched: bool = True,  # noqa: FBT001, FBT002 - a word of the trade at every call
    ) -> Member:
        """Make a member; the meaning of each argument is at `Member`.

        Raises:
            Conflict: the name, the pseudonym or the prefix is taken.
            MendpoolError: the pool was never begun.
        """
        with self._writing() as connection:
            return insert_member(
                connection,
                {
                    "name": name,
                    "role": role,
                    "token_sha256": token_sha256,
                    "token_prefix": token_prefix,
                    "pseudonym": pseudonym,
                    "created_at": now,
                    "expires_at": expires_at,
                    "vouched": vouched,
                },
            )

    def member_by_prefix(self, prefix: str) -> Member | None:
        """Return the member whose token begins so, revoked and expired ones too."""
        with looking_up(self.engine) as connection:
            row = _BY_PREFIX.first(connection, {"prefix": prefix})
            if self.replica is not None:
                # Whatever anyone was told before this request came is held from here on.
                self.replica.must_reach(connection)
        return None if row is None else member_of(row)

    def member_by_pseudonym(self, pseudonym: str) -> Member | None:
        """Return whose pseudonym it is, revoked and expired ones too."""
        with self._reading() as connection:
            query = _MEMBERS.where(MEMBER.c.pseudonym == pseudonym)
            row = connection.execute(query).first()
        return None if row is None else member_of(row)

    def list_members(self) -> list[Member]:
        """Return every member in the order they were made, revoked ones too."""
        with self._reading() as connection:
            return [member_of(row) for row in connection.execute(_by_id(_MEMBERS))]

    @undone_again
    def revoke_member(self, name: str, now: datetime) -> Member:
        """Stop a member's token, sessions and codes; a second time changes nothing.

        Raises:
            NotFound: there is no member of that name.
        """
        with self._writing() as connection:
            row = _named(connection, name)
            if row.revoked_at is None:
                revoked = update(MEMBER).where(MEMBER.c.id == row.id).values(revoked_at=now)
                connection.execute(revoked)
                shut_out(connection, row.id)
                row = _named(connection, name)
            return member_of(row)

    @undone_again
    def rotate_member(
        self,
        name: str,
        token_sha256: str,
        token_prefix: str,
        expires_at: datetime | None,
        readmit: bool = False,  # noqa: FBT001, FBT002 - a word of the trade at every call
    ) -> Member:
        """Give a member another token; the one before and every session stop at once.

        Args:
            name: whose.
            token_sha256: see `Member`, as the next two.
            readmit: also one whose token was revoked.

        Raises:
            NotFound: there is no member of that name.
            Conflict: the token was revoked, or this one came with a parcel.
        """
        with self._writing() as connection:
            row = _named(connection, name)
            if row.pseudonym.startswith(FOREIGN_PSEUDONYM):
                raise Conflict(f"{name} came with a parcel and has no token")
            if row.revoked_at is not None and not readmit:
                raise Conflict(f"{name}'s token was revoked; --readmit takes {name} back")
            fresh = {
                "token_sha256": token_sha256,
                "token_prefix": token_prefix,
                "expires_at": expires_at,
                "revoked_at": None,
                "last_used_at": None,
            }
            connection.execute(update(MEMBER).where(MEMBER.c.id == row.id).values(**fresh))
            shut_out(connection, row.id)
            return member_of(_named(connection, name))

    @undone_again
    def touch_member(self, member_id: int, now: datetime) -> None:
        """Remember the day on which the member's token was used; written once a day.

        What this process wrote it remembers, so the usual request asks the database nothing;
        and what is written goes with the other writes.
        """
        day = now.replace(hour=0, minute=0, second=0, microsecond=0)
        last = self._touched.get(member_id)
        if last is not None and day <= last:
            return
        self._write(_TOUCH_ALL, (member_id, day))
        self._touched[member_id] = day


def _touch(connection: Connection, used: tuple[int, datetime]) -> None:
    member_id, day = used
    connection.execute(_TOUCH, {"one": member_id, "day": day})


_TOUCH_ALL = one_by_one(_touch)


def insert_member(connection: Connection, values: Mapping[str, Any]) -> Member:
    """Make a member within a write that is under way.

    Args:
        connection: of the write.
        values: of every column but the opaque number.

    Raises:
        Conflict: the name, the pseudonym or the prefix is taken.
    """
    name, pseudonym = values["name"], values["pseudonym"]
    taken = or_(
        MEMBER.c.name == name,
        MEMBER.c.pseudonym == pseudonym,
        MEMBER.c.token_prefix == values["token_prefix"],
    )
    if connection.execute(select(MEMBER.c.id).where(taken)).first() is not None:
        raise Conflict(f"a member with the name or the token of {name} is there")
    group = group_of(pool_key(connection), pseudonym)
    made = insert(MEMBER).values(**values, group_no=group).returning(MEMBER)
    return member_of(connection.execute(made).one())


def shut_out(connection: Connection, member_id: int) -> None:
    """End a member's sessions, open codes and open invitations within a write under way."""
    connection.execute(delete(SESSION).where(SESSION.c.member_id == member_id))
    unused = INVITATION.c.used_at.is_(None)
    theirs = (INVITATION.c.member_id == member_id) | (INVITATION.c.made_by == member_id)
    connection.execute(delete(INVITATION).where(theirs, unused))


def group_of(key: bytes, pseudonym: str) -> int:
    """Return a number that tells nobody without the pool's key which pseudonym it is."""
    digest = hmac.new(key, b"group\0" + pseudonym.encode(), hashlib.sha256).digest()
    return int.from_bytes(digest[: _GROUP_BITS // 8])


def _named(connection: Connection, name: str) -> AnyRow:
    row = connection.execute(_MEMBERS.where(MEMBER.c.name == name)).first()
    if row is None:
        raise NotFound(f"no member is called {name}")
    return row


def _by_id(query: Select[Any]) -> Select[Any]:
    return query.order_by(MEMBER.c.id)


def member_of(row: AnyRow) -> Member:
    """Make the value of a row of `member`."""
    return Member(
        id=row.id,
        name=row.name,
        role=row.role,
        pseudonym=row.pseudonym,
        group=row.group_no,
        token_prefix=row.token_prefix,
        token_sha256=row.token_sha256,
        created=row.created_at,
        expires=row.expires_at,
        revoked=row.revoked_at,
        vouched=row.vouched,
        last_used=row.last_used_at,
    )
