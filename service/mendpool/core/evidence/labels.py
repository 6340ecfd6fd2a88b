"""The causes of reports and their shares: as reported in full, else by what was tried.

A repair whose cause nobody wrote down still tells of it by what worked and what did not (EM
over attempts); one that was never solved tells less.

What the attempts teach is learned from all reports, of more than `SAMPLE` from so many of
them: those whose ids, well mixed, come first. So it takes the same time in a pool of any size,
and depends on nothing but which reports are held. Every report is then told by it.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from mendpool.core.evidence.attempts_board import NO_REPORTS
from mendpool.core.evidence.attempts_em import causes_of, teach
from mendpool.core.evidence.attempts_layout import Layout
from mendpool.core.evidence.bayes import Array
from mendpool.core.evidence.expectations import Expectations
from mendpool.core.evidence.ledger import Block, Ledger, Names, Numbers, joined
from mendpool.core.evidence.reports import Reports, mixed

SAMPLE = 16_384
"""Reports that attempts are learned from: 75 a cause, and the catalogue counts for eight."""

_LEAST_SHARE, _UNSOLVED = 0.1, 0.3
"""Less of a cause than this is not counted; a repair that nobody solved counts so much."""

_PLACES = 10_000
_OF_UNSOLVED = np.array([round(_UNSOLVED * (n / _PLACES), 4) for n in range(_PLACES + 1)])
"""Shares have four places; what is left of them where nothing was solved has so many too."""


class Shares(NamedTuple):
    """Report by its place in the block, cause by its place in `Causes.keys`, and share."""

    owner: Numbers
    cause: Numbers
    share: Array


class Causes:
    """Numbers for all that can be at fault: causes in full, and parts alone."""

    def __init__(self, names: dict[str, Names], expected: Expectations | None) -> None:
        listed = () if expected is None else tuple(expected.keys)
        cause, part = names["cause"].names, names["part"].names
        number: dict[str, int] = {}
        for key in (*cause, *part, *listed):
            number.setdefault(key, len(number))
        self.keys = list(number)
        self.of_cause = np.array([number[key] for key in cause], dtype=np.int64)
        self.of_part = np.array([number[key] for key in part], dtype=np.int64)
        self.of_row = np.array([number[key] for key in listed], dtype=np.int64)


def plain_shares(block: Block, causes: Causes) -> Shares:
    """Return the causes as reported, else the parts that were cured; in even shares."""
    told, parts = block.ragged("cause"), block.ragged("fault")
    guessed = told.lengths[parts.owners] == 0
    owner = np.concatenate([told.owners, parts.owners[guessed]])
    cause = np.concatenate(
        [causes.of_cause[told.entries], causes.of_part[parts.entries[guessed]]]
    )
    count = np.bincount(owner, minlength=len(block))
    return Shares(owner, cause, 1.0 / count[owner])


class Labels:
    """What the attempts of a ledger teach of the causes that were not reported in full."""

    def __init__(
        self, ledger: Ledger, reports: Reports, weight: Array, expected: Expectations
    ) -> None:
        self._listed = len(expected.keys)
        self.asked = expected.ask(ledger.names)
        self._layout = Layout(expected.causes, ledger.names, self.asked.likelihoods)
        full = ["/" in name for name in ledger.names["cause"].names]
        self._full = np.array(full, dtype=np.bool_)
        sample, weights = _sampled(ledger, reports.ids, weight)
        board = NO_REPORTS if sample is None else self._layout.board(sample)
        taught = teach(board, weights, self._layout.catalogue, self._layout.cures.expected())
        self._share, self._cure = taught.share, taught.cure

    def shares(self, block: Block, causes: Causes) -> Shares:
        """Return the causes of the reports of a block."""
        plain = plain_shares(block, causes)
        rows = np.flatnonzero(~self._in_full(block))
        owner, row, share = self._told(block.take(rows))
        owner = rows[owner]
        solved = np.bincount(plain.owner, minlength=len(block)) > 0
        of_unsolved = _OF_UNSOLVED[np.rint(share * _PLACES).astype(np.int64)]
        share = np.where(solved[owner], share, of_unsolved)
        # Where the attempts tell nothing clear, it stays as it was said.
        kept = ~np.isin(plain.owner, owner)
        return Shares(
            np.concatenate([plain.owner[kept], owner]),
            np.concatenate([plain.cause[kept], causes.of_row[row]]),
            np.concatenate([plain.share[kept], share]),
        )

    def _in_full(self, block: Block) -> NDArray[np.bool_]:
        told = block.ragged("cause")
        full = np.bincount(told.owners, self._full[told.entries], minlength=len(block))
        return np.asarray((told.lengths > 0) & (full == told.lengths))

    def _told(self, block: Block) -> tuple[Numbers, Numbers, Array]:
        owners, rows, shares = [np.zeros(0, np.int64)], [np.zeros(0, np.int64)], [np.zeros(0)]
        for places, board in self._layout.boards(block):
            # What was not met in the sample works as the catalogue has it.
            more = self._layout.cures.expected(len(self._cure))
            self._cure = np.concatenate([self._cure, more])
            owner, row, share = causes_of(board, self._share, self._cure)
            told = (row < self._listed) & (share >= _LEAST_SHARE)
            owners.append(places[owner[told]])
            rows.append(row[told])
            shares.append(share[told])
        return np.concatenate(owners), np.concatenate(rows), np.concatenate(shares)


def _sampled(
    ledger: Ledger, ids: NDArray[np.bytes_], weight: Array
) -> tuple[Block | None, Array]:
    """Return the reports to learn from in the order of their ids, and their weights."""
    chosen = np.ones(len(ids), dtype=np.bool_)
    if len(ids) > SAMPLE:
        order = _by_chance(ids)
        chosen = order <= np.partition(order, SAMPLE - 1)[SAMPLE - 1]
    parts, begin = [], 0
    for block in ledger.blocks():
        rows = np.flatnonzero(chosen[begin : begin + len(block)])
        if len(rows):
            parts.append(block.take(rows))
        begin += len(block)
    if not parts:
        return None, np.zeros(0)
    sample = joined(parts)
    by_id = np.argsort(sample["id"], kind="stable")
    return sample.take(by_id), weight[chosen][by_id]


def _by_chance(ids: NDArray[np.bytes_]) -> NDArray[np.uint64]:
    """Return a number for each id that says nothing of when it was made."""
    width = ids.dtype.itemsize
    letters = np.ascontiguousarray(ids).view(np.uint8).reshape(len(ids), width)
    number = np.zeros(len(ids), dtype=np.uint64)
    for place in range(width):
        letter = letters[:, place]
        number = np.where(letter > 0, mixed(number ^ letter), number)
    return number
