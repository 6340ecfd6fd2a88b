"""Makes a fit of the feed up to a cut, from what was kept of the last one."""

from collections.abc import Callable, Iterator, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from mendpool.core.evidence.case import case_from_text
from mendpool.core.evidence.expectations import Expectations
from mendpool.core.evidence.fit import fit_of
from mendpool.core.evidence.ledger import (
    BLOCK,
    Block,
    Clerk,
    Ledger,
    joined,
    only_used,
    renumbered,
    used_names,
)
from mendpool.store.values import CaseRow
from mendpool.usecases.ledger_folder import UNREADABLE, Kept, LedgerFolder, nothing_kept

if TYPE_CHECKING:
    # Nothing here makes a store: the command must not load a database for each answer.
    from mendpool.store.pool_store import PoolStore

_PAGE = 2000

GoOn = Callable[[], bool]


class GivenUp(Exception):
    """It is no longer wanted."""


def made_fit(
    store: "PoolStore",
    expected: Expectations,
    cut: int,
    folder: LedgerFolder | None = None,
    go_on: GoOn = lambda: True,
) -> bytes:
    """Return the fit of the reports held up to and including line `cut` of the feed.

    Args:
        store: of the reports.
        expected: what the catalogue expects.
        cut: the last line that counts.
        folder: where the ledger is kept for the next time; None keeps nothing. It holds what
            can be made anew, and where it can't be used that is done.
        go_on: asked now and then.

    Raises:
        GivenUp: `go_on` said no.
    """
    if folder is not None:
        try:
            return _Books(store, expected, folder, go_on).fit(cut)
        except UNREADABLE:
            folder.discard()
        try:
            return _Books(store, expected, folder, go_on).fit(cut)
        except UNREADABLE:
            folder.discard()
    return _fit_in_memory(store, expected, cut, go_on)


def _fit_in_memory(store: "PoolStore", expected: Expectations, cut: int, go_on: GoOn) -> bytes:
    news = _News(nothing_kept(), expected.protections)
    blocks = [_without(b, news.gone) for b in news.read(store, cut, go_on)]
    blocks += news.told_again()
    vouched = store.vouched_since(cut)
    ledger = Ledger(lambda: (_vouching(b, vouched) for b in blocks), news.kept.names)
    return fit_of(ledger, expected).to_bytes()


@dataclass
class _News:
    """What the feed holds after what was kept: new blocks, and who was taken back."""

    kept: Kept
    protections: frozenset[str]

    def __post_init__(self) -> None:
        self.gone: set[bytes] = set()
        self._again: dict[bytes, CaseRow] = {}
        self.anchor = self.kept.anchor

    def read(self, store: "PoolStore", cut: int, go_on: GoOn) -> list[Block]:
        """Return the new blocks; `gone` and `anchor` are known from then on."""
        return list(self.blocks(store, cut, go_on))

    def blocks(self, store: "PoolStore", cut: int, go_on: GoOn) -> Iterator[Block]:
        """Yield the new blocks."""
        clerk = Clerk(self.kept.names, self.protections)
        for row in _rows(store, self.kept.seq, cut, go_on):
            self.anchor = anchor_of(row)
            name = str(row.report_id).encode()
            if row.kind == "withdrawal" and row.report_id is not None:
                self.gone.add(name)
                self._again.pop(name, None)
            elif row.kind == "report" and name in self.gone:
                self._again[name] = row
            elif row.kind == "report":
                _write(clerk, row)
            if len(clerk) >= BLOCK:
                yield clerk.close()
        if len(clerk):
            yield clerk.close()

    def told_again(self) -> list[Block]:
        """Return a block of the reports that came once more after they were taken back.

        They are written when what they said before has been left out.
        """
        clerk = Clerk(self.kept.names, self.protections)
        for row in self._again.values():
            _write(clerk, row)
        return [clerk.close()] if len(clerk) else []


def _write(clerk: Clerk, row: CaseRow) -> None:
    if row.case_body is not None:
        clerk.write(
            case_from_text(row.case_body, group=row.group or 0, vouched=bool(row.vouched))
        )


class _Books:
    """A ledger on disk and the feed that it follows."""

    def __init__(
        self, store: "PoolStore", expected: Expectations, folder: LedgerFolder, go_on: GoOn
    ) -> None:
        self._store, self._expected = store, expected
        self._folder, self._go_on = folder, go_on

    def fit(self, cut: int) -> bytes:
        """Bring the ledger up to the cut, keep it, and make the fit."""
        kept = self._folder.load()
        if kept.seq > cut or kept.anchor != self._anchor(kept.seq):
            kept = nothing_kept()
        if kept.seq < cut:
            self._follow(kept, cut)
        names = [name for name, _ in kept.blocks]
        vouched = self._store.vouched_since(cut)
        ledger = Ledger(
            lambda: (_vouching(block, vouched) for block in self._read(names)), kept.names
        )
        return fit_of(ledger, self._expected).to_bytes()

    def _follow(self, kept: Kept, cut: int) -> None:
        news = _News(kept, self._expected.protections)
        for block in news.blocks(self._store, cut, self._go_on):
            self._add(kept, block, cut)
        if news.gone:
            self._take_out(kept, news.gone, cut)
            for block in news.told_again():
                self._add(kept, block, cut)
        kept.seq, kept.anchor = cut, news.anchor
        self._folder.publish(kept)

    def _add(self, kept: Kept, block: Block, cut: int) -> None:
        """Write a block, as one with the last where the two have room in one."""
        if kept.blocks and kept.blocks[-1][1] + len(block) <= BLOCK:
            last, _ = kept.blocks.pop()
            block = joined([self._folder.block(last), block])
        kept.blocks.append(self._folder.keep(block, cut))

    def _take_out(self, kept: Kept, gone: set[bytes], cut: int) -> None:
        """Leave reports out, and the names that only they used."""
        names = [name for name, _ in kept.blocks]
        without = (_without(block, gone) for block in self._read(names))
        used = used_names(without, kept.names)
        kept.blocks = [
            self._folder.keep(renumbered(block, used), cut)
            for block in (_without(block, gone) for block in self._read(names))
            if len(block)
        ]
        kept.names = only_used(kept.names, used)

    def _read(self, names: Sequence[str]) -> Iterator[Block]:
        for block in self._folder.blocks(names):
            if not self._go_on():
                raise GivenUp
            yield block

    def _anchor(self, seq: int) -> str:
        lines = self._store.cases_after(seq - 1, 1) if seq else []
        return anchor_of(lines[0]) if lines else ""


def anchor_of(row: CaseRow) -> str:
    """Return what a line of the feed is about."""
    return f"{row.seq} {row.kind} {row.report_id}"


def _rows(store: "PoolStore", after: int, cut: int, go_on: GoOn) -> Iterator[CaseRow]:
    while after < cut:
        if not go_on():
            raise GivenUp
        rows = store.cases_after(after, min(_PAGE, cut - after))
        yield from rows
        if not rows:
            return
        after = rows[-1].seq


def _without(block: Block, gone: set[bytes]) -> Block:
    """Return a block without the reports of these ids."""
    if not gone:
        return block
    held = np.isin(block["id"], np.array(sorted(gone)), invert=True)
    return block if held.all() else block.take(np.flatnonzero(held))


def _vouching(block: Block, groups: AbstractSet[int]) -> Block:
    """Return a block in which nobody of these contributors is new."""
    if not groups:
        return block
    mine = np.isin(block["group"], np.array(sorted(groups), dtype=np.int64))
    return Block({**block.columns, "new": block["new"] & ~mine})
