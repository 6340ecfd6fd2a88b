"""An index that keeps its cases beside it, for a pool that fits in memory."""

from collections.abc import Iterable, Mapping, Sequence
from uuid import UUID

from mendpool.core.evidence.case import Case, Seen
from mendpool.index.finder import TAIL_MOST, Finder


class Postings:
    """The cases held, found by their terms. Not safe for writers and readers at once."""

    def __init__(self) -> None:
        self._finder = Finder()
        self._by_seq: dict[int, Case] = {}
        self._seq_of: dict[str, int] = {}
        self._seq = 0

    def __len__(self) -> int:
        return len(self._by_seq)

    def add(self, case: Case) -> None:
        """Hold a case; the same id again changes nothing (reports never change)."""
        if case.id in self._seq_of:
            return
        self._seq += 1
        self._seq_of[case.id] = self._seq
        self._by_seq[self._seq] = case
        self._finder.add(self._seq, UUID(case.id), case.terms)

    def follow_up(self, report_id: str, seen: Seen) -> None:
        """Add what was seen later; follow-ups stay in the order of their months."""
        seq = self._seq_of.get(report_id)
        if seq is not None:
            case = self._by_seq[seq]
            self._by_seq[seq] = case._replace(followups=tuple(sorted((*case.followups, seen))))

    def remove(self, report_id: str) -> None:
        """Forget a withdrawn case."""
        seq = self._seq_of.pop(report_id, None)
        if seq is not None:
            del self._by_seq[seq]
            self._finder.remove(UUID(report_id))

    def get(self, report_id: str) -> Case | None:
        """Return a case by its report's id."""
        seq = self._seq_of.get(report_id)
        return None if seq is None else self._by_seq[seq]

    def cases(self) -> Iterable[Case]:
        """Return every case held, in the order of coming."""
        return self._by_seq.values()

    def tidy(self) -> None:
        """Close what came last into a segment; a long tail is slow to search."""
        self._finder.tidy()

    def search(self, weights: Mapping[str, int], limit: int = 300) -> Sequence[Case]:
        """Return at most `limit` cases by score (highest first), then id; see `View.search`."""
        if self._finder.tail_length > TAIL_MOST:
            self._finder.tidy()
        return [self._by_seq[hit.seq] for hit in self._finder.search(weights, limit)]
