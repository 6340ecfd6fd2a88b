"""What was sent, and the pool has no longer: it is sent again.

A service that is restored from a backup has lost what came after it; members still have what
they sent. A copy that was just brought up to date tells what the pool has. Only what this
very pool is known to have had is offered to it again: what went to another pool stays with it.
"""

from collections.abc import Iterable, Sequence
from itertools import islice
from typing import TYPE_CHECKING
from uuid import UUID

from mendpool_field.outbox import Entry, Outbox

if TYPE_CHECKING:
    from mendpool.store.copied import CopyStore

_AT_ONCE = 300


def compared(
    outbox: Outbox, sent: Sequence[Entry], store: "CopyStore", pool: str
) -> list[Entry]:
    """Compare what was sent with a copy that is up to date.

    What is found there is kept as that pool's. What that pool had and has not waits again.

    Args:
        sent: what was in `sent/` before the copy was brought up to date.
        pool: the id of the pool the copy is of.

    Returns:
        What waits again.
    """
    there = _held(store, {entry.report for entry in sent})
    again = []
    for entry in sent:
        if entry.id in there:
            if entry.pool != pool:
                outbox.confirm(entry, pool)
        elif entry.pool == pool:
            outbox.send_again(entry)
            again.append(entry)
    return again


def forgotten(outbox: Outbox, again: Iterable[Entry]) -> list[Entry]:
    """Forget what was sent again and refused because it was taken back meanwhile.

    Returns:
        Those that were forgotten.
    """
    offered = {entry.id for entry in again}
    gone = [
        entry
        for entry in outbox.entries()
        if entry.id in offered and entry.state == "parked" and entry.status in _GONE
    ]
    for entry in gone:
        outbox.drop(entry)
    return gone


_GONE = frozenset({404, 410})
"""Taken back; a follow-up finds no report, or one that was taken back."""


def _held(store: "CopyStore", reports: Iterable[str]) -> set[str]:
    """Return the ids of the reports asked for and of their follow-ups that a copy holds."""
    found: set[str] = set()
    ids = iter(sorted(reports))
    while some := list(islice(ids, _AT_ONCE)):
        for report in store.get_reports(UUID(name) for name in some):
            found.add(str(report.id))
            found.update(str(followup.id) for followup in report.followups)
    return found
