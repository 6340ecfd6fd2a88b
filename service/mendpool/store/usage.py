"""How often each member asked of late, as the processes of a pool tell each other."""

from collections.abc import Mapping
from typing import Any

from sqlalchemy import Connection, bindparam, delete, select
from sqlalchemy.dialects import postgresql, sqlite

from mendpool.store.room import Room
from mendpool.store.tables import USAGE
from mendpool.store.together import one_by_one

_OF_MEMBER = select(USAGE.c.slot, USAGE.c.requests).where(
    USAGE.c.member_id == bindparam("member"), USAGE.c.slot >= bindparam("oldest")
)
_OLD = delete(USAGE).where(USAGE.c.slot < bindparam("oldest"))


class Usage(Room):
    """Keeps the counts of the last minute and no older ones."""

    def add_usage(self, member_id: int, more: Mapping[int, int], oldest: int) -> dict[int, int]:
        """Add to a member's counts and return what all processes together have told.

        Written with whatever else is being written.

        Args:
            member_id: whose.
            more: how many requests by number of a stretch of time.
            oldest: the first stretch that still matters; older counts go.
        """
        return self._write(_ADD_ALL, (member_id, dict(more), oldest))


def _add(connection: Connection, given: tuple[int, Mapping[int, int], int]) -> dict[int, int]:
    member_id, more, oldest = given
    connection.execute(_OLD, {"oldest": oldest})
    rows = [{"member_id": member_id, "slot": s, "requests": n} for s, n in more.items()]
    connection.execute(_adding(connection), rows)
    told = connection.execute(_OF_MEMBER, {"member": member_id, "oldest": oldest})
    return {row.slot: row.requests for row in told}


_ADD_ALL = one_by_one(_add)


def _adding(connection: Connection) -> Any:  # noqa: ANN401 - either dialect's own insert
    adding = _INSERTS[connection.dialect.name](USAGE)
    return adding.on_conflict_do_update(
        index_elements=[USAGE.c.member_id, USAGE.c.slot],
        set_={"requests": USAGE.c.requests + adding.excluded.requests},
    )


_INSERTS: Mapping[str, Any] = {"sqlite": sqlite.insert, "postgresql": postgresql.insert}
