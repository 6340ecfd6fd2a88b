"""Sessions: browsers that are signed in as a member, each by a secret kept only as a hash."""

from dataclasses import dataclass
from datetime import datetime
from typing import NamedTuple

from sqlalchemy import Connection, Engine, and_, bindparam, delete, insert, or_, select, update

from mendpool.core.errors import NotFound
from mendpool.store.again import undone_again
from mendpool.store.direct import Asked
from mendpool.store.engine import looking_up
from mendpool.store.members import member_of
from mendpool.store.room import Room
from mendpool.store.tables import MEMBER, SESSION
from mendpool.store.together import one_by_one
from mendpool.store.values import Member

SESSIONS_MOST = 20
"""How many browsers one member can be signed in with; the oldest is signed out for the next."""
_TOUCHED_MOST = 10_000

_BY_PREFIX = Asked(
    select(
        MEMBER,
        SESSION.c.prefix,
        SESSION.c.sha256,
        SESSION.c.made_at.label("begun_at"),
        SESSION.c.expires_at.label("ends_at"),
    )
    .select_from(SESSION.join(MEMBER, MEMBER.c.id == SESSION.c.member_id))
    .where(SESSION.c.prefix == bindparam("prefix"))
)
_TOUCH = (
    update(SESSION)
    .where(
        SESSION.c.prefix == bindparam("one"),
        or_(SESSION.c.last_used_at.is_(None), SESSION.c.last_used_at < bindparam("day")),
    )
    .values(last_used_at=bindparam("day"))
)


@dataclass(frozen=True, slots=True)
class Session:
    """A browser that is signed in.

    Args:
        prefix: the readable beginning of its secret, by which it is found.
        sha256: of the whole secret.
        made: when it signed in.
        expires: when it ends by itself, or with the member's token if that is sooner.
    """

    prefix: str
    sha256: str
    made: datetime
    expires: datetime


class Kept(NamedTuple):
    """What is kept of a secret: its readable beginning and its hash."""

    prefix: str
    sha256: str


class HeldSession(NamedTuple):
    """A session and whose it is."""

    session: Session
    member: Member


class Sessions(Room):
    """Keeps who is signed in."""

    def __init__(self, engine: Engine) -> None:
        """Stand on `engine`, as `make_engine` made it."""
        super().__init__(engine)
        self._sessions_touched: dict[str, datetime] = {}

    def session_by_prefix(self, prefix: str) -> HeldSession | None:
        """Return the session whose secret begins so, ended ones of revoked members too."""
        with looking_up(self.engine) as connection:
            row = _BY_PREFIX.first(connection, {"prefix": prefix})
            if self.replica is not None:
                # As for a token: what anyone was told before this request is held from here.
                self.replica.must_reach(connection)
        if row is None:
            return None
        found = Session(row.prefix, row.sha256, row.begun_at, row.ends_at)
        return HeldSession(found, member_of(row))

    @undone_again
    def add_session(self, token: Kept, new: Session, earlier: Kept | None = None) -> Member:
        """Sign a browser in for whoever has a token.

        Args:
            token: what is kept of the token that was shown.
            new: the session to begin.
            earlier: of the secret the browser had before; that session ends.

        Raises:
            NotFound: no member has that token now.
        """
        with self._writing() as connection:
            row = connection.execute(
                select(MEMBER).where(
                    MEMBER.c.token_prefix == token.prefix,
                    MEMBER.c.token_sha256 == token.sha256,
                    MEMBER.c.revoked_at.is_(None),
                    or_(MEMBER.c.expires_at.is_(None), MEMBER.c.expires_at > new.made),
                )
            ).first()
            if row is None:
                raise NotFound
            begin_session(connection, row.id, new, earlier)
            return member_of(row)

    @undone_again
    def end_session(self, prefix: str) -> None:
        """Sign a browser out; once more changes nothing."""
        with self._writing() as connection:
            connection.execute(delete(SESSION).where(SESSION.c.prefix == prefix))

    @undone_again
    def touch_session(self, prefix: str, now: datetime) -> None:
        """Remember the day on which a session was used; written once a day, as for a token."""
        day = now.replace(hour=0, minute=0, second=0, microsecond=0)
        last = self._sessions_touched.get(prefix)
        if last is not None and day <= last:
            return
        self._write(_TOUCH_ALL, (prefix, day))
        if len(self._sessions_touched) >= _TOUCHED_MOST:
            self._sessions_touched.clear()  # those still used are written once more
        self._sessions_touched[prefix] = day


def begin_session(
    connection: Connection, member_id: int, new: Session, earlier: Kept | None
) -> None:
    """Keep a session within a write that is under way; what is over or too many goes."""
    mine = SESSION.c.member_id == member_id
    gone = and_(mine, SESSION.c.expires_at <= new.made)
    if earlier is not None:
        # Whoever it was of: one phone is signed in as one member.
        same = and_(SESSION.c.prefix == earlier.prefix, SESSION.c.sha256 == earlier.sha256)
        gone = or_(gone, same)
    connection.execute(delete(SESSION).where(gone))
    held = select(SESSION.c.prefix).where(mine)
    newest = held.order_by(SESSION.c.made_at.desc(), SESSION.c.prefix)
    prefixes = connection.execute(newest).scalars().all()
    if too_many := prefixes[SESSIONS_MOST - 1 :]:
        connection.execute(delete(SESSION).where(SESSION.c.prefix.in_(too_many)))
    connection.execute(
        insert(SESSION).values(
            prefix=new.prefix,
            sha256=new.sha256,
            member_id=member_id,
            made_at=new.made,
            expires_at=new.expires,
        )
    )


def _touch(connection: Connection, used: tuple[str, datetime]) -> None:
    prefix, day = used
    connection.execute(_TOUCH, {"one": prefix, "day": day})


_TOUCH_ALL = one_by_one(_touch)
