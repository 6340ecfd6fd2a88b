"""The lines of the feed, as a writer adds them."""

from collections.abc import Sequence
from datetime import datetime

from sqlalchemy import Connection, func, insert, select

from mendpool.store.direct import Added
from mendpool.store.tables import CHANGE
from mendpool.store.values import ChangeKind

LAST = select(func.coalesce(func.max(CHANGE.c.seq), 0))
_ADD = Added(insert(CHANGE), ("seq", "kind", "ref", "at"))


def last_number(connection: Connection) -> int:
    """Return the number of the newest line, 0 for an empty feed."""
    return int(connection.execute(LAST).scalar_one())


def add_lines(
    connection: Connection, lines: Sequence[tuple[int, ChangeKind, str]], now: datetime
) -> None:
    """Add lines to the feed, each ``(seq, kind, ref)``, numbered on from `last_number`.

    The numbers are given, not drawn from a sequence of the database: only the connection
    that holds the writer's lock comes here, so the next number is the last one plus one,
    and the feed has no gap that a copy could take for a loss.
    """
    add_lines_at(connection, [(*line, now) for line in lines])


def add_lines_at(
    connection: Connection, lines: Sequence[tuple[int, ChangeKind, str, datetime]]
) -> None:
    """Add lines that came at different times, each ``(seq, kind, ref, at)``."""
    _ADD.add(
        connection,
        [{"seq": seq, "kind": kind, "ref": ref, "at": at} for seq, kind, ref, at in lines],
    )
