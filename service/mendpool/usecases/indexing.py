"""Keeps the index: follows the feed, tidies, and shares it with the other processes."""

import json
import logging
import threading
from collections.abc import Callable, Iterable, Iterator
from typing import TYPE_CHECKING, NamedTuple

from mendpool.index.finder import TAIL_MOST, Finder
from mendpool.index.folder import Folder
from mendpool.index.sheaf import Gatherer, Sheaf
from mendpool.index.told import told_of, whose_of
from mendpool.index.view import View
from mendpool.store.values import CaseRow

if TYPE_CHECKING:
    # Nothing here makes a store: the command must not load a database for each answer.
    from mendpool.store.pool_store import PoolStore

_log = logging.getLogger("mendpool")
_PAGE = 2000
_SHEAF = 4000
_SPREAD_FROM = 60_000
"""Lines of the feed from which a process started for it is worth its start."""
_TAIL_IN_BULK = 1_048_576
"""A tail is let grow so long while an index is made: closing it sorts all of it anew."""
_TAIL_TOO_LONG = 4 * TAIL_MOST
_TURN_WAIT_S = 120


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


class Indexing:
    """One process's index of the feed.

    Where a folder is given, one process of a host at a time writes there what it has tidied,
    and the others take it over instead of doing the same work. Nothing depends on the
    folder: without it, or where it can't be used, the index is made of the feed.
    """

    def __init__(
        self, store: "PoolStore", folder: Folder | None = None, gather: Gather | None = None
    ) -> None:
        """Begin empty.

        Args:
            store: whose feed is followed.
            folder: where the index is shared with other processes.
            gather: who helps with a long feed.
        """
        self._store = store
        self._gather = gather
        self._folder = folder
        self._folder_later = folder
        self._finder = Finder()
        self._swapping = threading.Lock()

    @property
    def count(self) -> int:
        """How many reports are held."""
        return len(self._finder)

    @property
    def untidy(self) -> bool:
        """Whether so many reports came since the last tidying that searches take longer."""
        return self._finder.tail_length > TAIL_MOST

    def view(self) -> View:
        """Return what is held now, to be searched without a lock."""
        return self._finder.view()

    def load(self) -> int:
        """Begin with what is on disk, if it is of this feed; return the last line in it."""
        loaded = self._loaded()
        if loaded is not None:
            self._finder = loaded
        return self._finder.seq

    def discard(self) -> None:
        """Drop what is on disk, and keep nothing there until `rebuild`.

        Stored cases were derived again, or are about to be.
        """
        if self._folder is not None:
            self._folder.discard()
        self._folder = None

    def rebuild(self) -> None:
        """Make an index of the feed as it is now beside the one in use, then change over."""
        self._change_to(Finder())
        self._folder = self._folder_later

    def take(self, rows: list[CaseRow]) -> None:
        """Take lines of the feed, in order; those taken before change nothing."""
        self._take(rows)

    def follow(self, seq: int) -> Iterator[Stretch]:
        """Take what the feed holds after a number; yields each stretch of it once taken."""
        for stretch in self._after(seq):
            self._take(stretch.lines)
            yield stretch

    def tidy(self) -> None:
        """Close what came last, or take over what another process closed."""
        self._tidy(whole=False)

    def forget(self) -> None:
        """Make anew what is on disk, so that nothing of a report taken back is left there."""
        if self._folder is not None and self._folder.newest_seq():
            self._tidy(whole=True)

    def keep(self, *, whole: bool) -> None:
        """Put what is held on disk, however little came since the last time.

        For a copy, which every command opens anew.

        Args:
            whole: make everything anew, so that nothing of a report taken back is left.

        Raises:
            OSError: the disk is full or can't be written; what was there still counts.
        """
        if self._folder is None:
            return
        with self._folder.writing(_TURN_WAIT_S) as mine:
            if mine:
                closed = self._finder.tidy(whole=whole)
                self._folder.publish(closed, self._anchor(closed.seq))

    def _tidy(self, *, whole: bool) -> None:
        if self._folder is None:
            self._finder.tidy(whole=whole)
            return
        try:
            with self._folder.writing(_TURN_WAIT_S if whole else 0) as mine:
                if self._folder.newest_seq() > self._finder.closed_seq:
                    self._take_over()
                if mine and (whole or self.untidy):
                    closed = self._finder.tidy(whole=whole)
                    if self._folder.publish(closed, self._anchor(closed.seq)):
                        # A million reports made in memory take four times what mapped ones do.
                        del closed
                        self._take_over()
        except OSError as error:
            _log.warning("the index can't be kept on disk: %s", error)
        if self._finder.tail_length > _TAIL_TOO_LONG:
            self._finder.tidy()

    def _take_over(self) -> None:
        fresh = self._loaded()
        if fresh is not None:
            self._change_to(fresh)

    def _take(self, lines: list[CaseRow] | Sheaf) -> None:
        with self._swapping:
            _take(self._finder, lines)
        if self._finder.tail_length > _TAIL_IN_BULK:
            self._finder.tidy()

    def _after(self, seq: int) -> Iterator[Stretch]:
        """Yield the feed after a number; most of a long one as others read it."""
        rows = self._store.cases_after(seq, _PAGE)
        if self._gather is not None and len(rows) == _PAGE:
            last = self._store.last_seq()
            if last - seq >= _SPREAD_FROM:
                for stretch in self._gather(range(seq, last, _SHEAF)):
                    if stretch.seq > seq:
                        yield stretch
                        seq = stretch.seq
                rows = self._store.cases_after(seq, _PAGE)
        yield from map(_stretch, filter(None, pages_from(self._store, rows)))

    def _change_to(self, fresh: Finder) -> None:
        for stretch in self._after(fresh.seq):
            _take(fresh, stretch.lines)
            if fresh.tail_length > _TAIL_IN_BULK:
                fresh.tidy()
        with self._swapping:
            # What the old one took since the last look; mostly nothing.
            while fresh.seq < self._finder.seq:
                _take(fresh, self._store.cases_after(fresh.seq, _PAGE))
            self._finder = fresh

    def _loaded(self) -> Finder | None:
        loaded = None if self._folder is None else self._folder.load()
        if loaded is None or loaded.anchor != self._anchor(loaded.closed.seq):
            return None
        return Finder.of(loaded.closed)

    def _anchor(self, seq: int) -> str:
        """Return what a line of the feed is about; nothing for none."""
        lines = self._store.cases_after(seq - 1, 1) if seq else []
        return f"{lines[0].seq} {lines[0].kind} {lines[0].report_id}" if lines else ""


def pages_after(store: "PoolStore", seq: int) -> Iterator[list[CaseRow]]:
    """Yield the feed after number `seq` in pages; the last one is short, and may be empty."""
    return pages_from(store, store.cases_after(seq, _PAGE))


def pages_from(store: "PoolStore", rows: list[CaseRow]) -> Iterator[list[CaseRow]]:
    """Yield a page of the feed and those after it; the last one is short, and may be empty.

    Where it is long, the next page is fetched while one is worked on: a database that is a
    process of its own then works beside this one.
    """
    if len(rows) == _PAGE:
        # Only here: the field command's copy is short, and must begin at once.
        from concurrent.futures import ThreadPoolExecutor  # noqa: PLC0415

        with ThreadPoolExecutor(1) as fetching:
            while len(rows) == _PAGE:
                coming = fetching.submit(store.cases_after, rows[-1].seq, _PAGE)
                yield rows
                rows = coming.result()
    yield rows


def stretch_after(store: "PoolStore", seq: int) -> Stretch:
    """Return the lines of the feed after a number, read and ready for the index."""
    rows = store.cases_after(seq, _SHEAF)
    gatherer = Gatherer()
    _take_rows(gatherer, rows)
    return _stretch(rows)._replace(lines=gatherer.sheaf())


def _take(finder: Finder, lines: list[CaseRow] | Sheaf) -> None:
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


def _stretch(rows: list[CaseRow]) -> Stretch:
    gone = [row.seq for row in rows if row.kind == "withdrawal"]
    last = rows[-1].seq if rows else 0
    return Stretch(last, frozenset(row.kind for row in rows), max(gone, default=0), rows)
