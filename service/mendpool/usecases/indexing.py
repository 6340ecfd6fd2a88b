"""Keeps the index: follows the feed, tidies, and shares it with the other processes."""

import logging
import threading
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from typing import TYPE_CHECKING

from mendpool.index.finder import TAIL_MOST, Finder
from mendpool.index.folder import Folder
from mendpool.index.sheaf import Sheaf
from mendpool.index.view import View
from mendpool.store.values import CaseRow
from mendpool.usecases import stretches
from mendpool.usecases.stretches import (
    Gather,
    Stretch,
    pages_after,
    pages_from,
    stretch_of,
    take,
)

if TYPE_CHECKING:
    # Nothing here makes a store: the command must not load a database for each answer.
    from mendpool.store.pool_store import PoolStore

_log = logging.getLogger("mendpool")
_SPREAD_FROM = 60_000
"""Lines of the feed from which a process started for it is worth its start."""
_TAIL_IN_BULK = 1_048_576
"""A tail is let grow so long while an index is made: closing it sorts all of it anew."""
_TAIL_TOO_LONG = 4 * TAIL_MOST
_TURN_WAIT_S = 120
_LONG_WAIT_S = 900
"""A country's index takes minutes; whoever waited longer makes one alone."""


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

    def take(self, lines: list[CaseRow] | Sheaf) -> None:
        """Take lines of the feed, in order; those taken before change nothing."""
        with self._swapping:
            take(self._finder, lines)
        if self._finder.tail_length > _TAIL_IN_BULK:
            self._finder.tidy()

    def follow(self, seq: int) -> Iterator[Stretch]:
        """Take what the feed holds after a number; yields each stretch of it once taken.

        Where it is long, one process of the host reads it, and the others wait for its index.
        """
        rows = self._store.cases_after(seq, stretches.PAGE)
        if len(rows) == stretches.PAGE and self._is_long(seq):
            for stretch in self._in_turn(seq):
                yield stretch
                seq = stretch.seq
            rows = self._store.cases_after(seq, stretches.PAGE)
        for page in filter(None, pages_from(self._store, rows)):
            self.take(page)
            yield stretch_of(page)

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
                    self._close(whole=whole)
        except OSError as error:
            _log.warning("the index can't be kept on disk: %s", error)
        if self._finder.tail_length > _TAIL_TOO_LONG:
            self._finder.tidy()

    def _take_over(self) -> None:
        fresh = self._loaded()
        if fresh is not None:
            self._change_to(fresh)

    def _close(self, *, whole: bool) -> None:
        """Close the tail and put all on disk; for who has the turn."""
        if self._folder is None:
            return
        try:
            closed = self._finder.tidy(whole=whole)
            if self._folder.publish(closed, self._anchor(closed.seq)):
                # A million reports made in memory take four times what mapped ones do.
                del closed
                self._take_over()
        except OSError as error:
            _log.warning("the index can't be kept on disk: %s", error)

    def _in_turn(self, seq: int) -> Iterator[Stretch]:
        with self._long_turn() as mine:
            if (made := self._made_meanwhile(seq)) is not None:
                yield made
                seq = made.seq
            for stretch in _told_of(self._gathered(seq), seq, self._store.last_seq()):
                self.take(stretch.lines)
                yield stretch
            if mine and self.untidy:
                self._close(whole=False)
            _log.info("the index is made")

    @contextmanager
    def _long_turn(self) -> Iterator[bool]:
        """Give the turn to make a large index, once nobody else of this host is at it."""
        if self._folder is None:
            yield False
            return
        with ExitStack() as held:
            try:
                mine = held.enter_context(self._folder.writing(_LONG_WAIT_S))
            except OSError as error:
                _log.warning("the index can't be kept on disk: %s", error)
                mine = False
            yield mine

    def _made_meanwhile(self, seq: int) -> Stretch | None:
        """Take over what another process put on disk while this one waited for it."""
        fresh = self._loaded() if self._folder and self._folder.newest_seq() > seq else None
        if fresh is None:
            return None
        with self._swapping:
            self._finder = fresh
        gone = self._store.last_withdrawal()
        return Stretch(fresh.seq, frozenset({"fit", "followup", "withdrawal"}), gone, [])

    def _is_long(self, seq: int) -> bool:
        return self._gather is not None and self._store.last_seq() - seq >= _SPREAD_FROM

    def _gathered(self, seq: int) -> Iterator[Stretch]:
        """Yield the feed after a number as others read it, up to what is its end now."""
        last = self._store.last_seq()
        for stretch in self._gather(range(seq, last, stretches.SHEAF)) if self._gather else ():
            if stretch.seq > seq:
                yield stretch
                seq = stretch.seq

    def _after(self, seq: int) -> Iterator[Stretch]:
        if self._is_long(seq):
            for stretch in self._gathered(seq):
                yield stretch
                seq = stretch.seq
        yield from map(stretch_of, filter(None, pages_after(self._store, seq)))

    def _change_to(self, fresh: Finder) -> None:
        for stretch in self._after(fresh.seq):
            take(fresh, stretch.lines)
            if fresh.tail_length > _TAIL_IN_BULK:
                fresh.tidy()
        with self._swapping:
            # What the old one took since the last look; mostly nothing.
            while fresh.seq < self._finder.seq:
                take(fresh, self._store.cases_after(fresh.seq, stretches.PAGE))
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


def _told_of(stretches_: Iterator[Stretch], first: int, last: int) -> Iterator[Stretch]:
    """Yield the same, and tell the log at each tenth how far it is: it may take minutes."""
    tenth, told = max(1, (last - first) // 10), 0
    _log.info("making the index: %d lines of the feed to read", last - first)
    for stretch in stretches_:
        yield stretch
        if (done := (stretch.seq - first) // tenth) > told:
            told = done
            _log.info(
                "making the index: %d of %d lines read", stretch.seq - first, last - first
            )
