"""The change feed in stretches, as the index takes it: rows, or sheaves made elsewhere."""

import json
from collections.abc import Callable, Iterable, Iterator
from typing import TYPE_CHECKING, NamedTuple

from mendpool.index.finder import Finder
from mendpool.index.sheaf import Gatherer, Sheaf
from mendpool.index.told import told_of, whose_of
from mendpool.store.values import CaseRow

if TYPE_CHECKING:
    # Nothing here makes a store: the command must not load a database for each answer.
    from mendpool.store.pool_store import PoolStore

PAGE = 2000
SHEAF = 4000


class Stretch(NamedTuple):
    """Some lines of the feed in a row.

    Args:
        seq: the last of them.
        kinds: what they are about.
        gone: the last one that took something back; 0 where none does.
        lines: as the store gives them, or ready for the index.
    """

    seq: int
    kinds: frozenset[str]
    gone: int
    lines: list[CaseRow] | Sheaf


Gather = Callable[[Iterable[int]], Iterator[Stretch]]
"""Has stretches of the feed, each after a number, read elsewhere; gives them in order."""


def pages_after(store: "PoolStore", seq: int) -> Iterator[list[CaseRow]]:
    """Yield the feed after number `seq` in pages; see `pages_from`."""
    return pages_from(store, store.cases_after(seq, PAGE))


def pages_from(store: "PoolStore", rows: list[CaseRow]) -> Iterator[list[CaseRow]]:
    """Yield a page of the feed and those after it; the last one is short, and may be empty.

    Where it is long, the next page is fetched while one is worked on: a database that is a
    process of its own then works beside this one.
    """
    if len(rows) == PAGE:
        # Only here: the field command's copy is short, and must begin at once.
        from concurrent.futures import ThreadPoolExecutor  # noqa: PLC0415

        with ThreadPoolExecutor(1) as fetching:
            while len(rows) == PAGE:
                coming = fetching.submit(store.cases_after, rows[-1].seq, PAGE)
                yield rows
                rows = coming.result()
    yield rows


def stretch_after(store: "PoolStore", seq: int) -> Stretch:
    """Return the lines of the feed after a number, read and ready for the index."""
    rows = store.cases_after(seq, SHEAF)
    gatherer = Gatherer()
    _take_rows(gatherer, rows)
    return stretch_of(rows)._replace(lines=gatherer.sheaf())


def take(finder: Finder, lines: list[CaseRow] | Sheaf) -> None:
    """Have an index take lines of the feed, in order; those taken before change nothing."""
    if isinstance(lines, Sheaf):
        finder.take_in(lines)
    else:
        _take_rows(finder, lines)


def _take_rows(finder: Finder | Gatherer, rows: list[CaseRow]) -> None:
    for row in rows:
        if row.report_id is None:
            continue
        if row.kind == "withdrawal":
            finder.remove(row.report_id)
        elif row.case_body is not None and row.group is not None:
            body = json.loads(row.case_body)
            if row.kind == "report":
                whose = whose_of(body, row.group, vouched=bool(row.vouched))
                finder.add(row.seq, row.report_id, body["terms"], whose, told_of(body))
            else:
                finder.follow_up(row.seq, row.report_id, body["happened"], body["state"])
    if rows:
        finder.reached(rows[-1].seq)


def stretch_of(rows: list[CaseRow]) -> Stretch:
    """Return rows as a stretch, as the store gives them."""
    gone = [row.seq for row in rows if row.kind == "withdrawal"]
    last = rows[-1].seq if rows else 0
    return Stretch(last, frozenset(row.kind for row in rows), max(gone, default=0), rows)
