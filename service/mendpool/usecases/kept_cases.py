"""Cases by their number: some kept in memory, the rest read in one query."""

import json
import threading
from collections.abc import Sequence
from uuid import UUID

from mendpool.core.diagnosis.derive import seen_of
from mendpool.core.evidence.case import Case, case_from_text
from mendpool.store.pool_store import PoolStore
from mendpool.store.values import HeldCase

KEPT_MOST = 20_000
"""About 4 KiB each."""


class KeptCases:
    """Reads cases from the store and keeps those lately used. Safe for threads."""

    def __init__(self, store: PoolStore, most: int = KEPT_MOST) -> None:
        """Read from `store` and keep at most `most`."""
        self._store = store
        self._most = most
        self._lock = threading.Lock()
        self._kept: dict[int, Case] = {}
        self._seq_of: dict[UUID, int] = {}
        self._forgotten = 0

    def get(self, seqs: Sequence[int]) -> list[Case]:
        """Return the cases of these numbers in their order; those taken back are left out."""
        with self._lock:
            found = {seq: self._kept[seq] for seq in seqs if seq in self._kept}
            forgotten = self._forgotten
        missing = [seq for seq in seqs if seq not in found]
        if missing:
            read = self._store.cases_by_seq(missing)
            found.update((held.seq, case_of(held)) for held in read)
            with self._lock:
                # What changed while it was read may have been read as it was before.
                if forgotten == self._forgotten:
                    self._keep(read, found)
        return [found[seq] for seq in seqs if seq in found]

    def forget(self, report: UUID) -> None:
        """Read a case anew the next time: something was added to it, or it is gone."""
        with self._lock:
            self._forgotten += 1
            self._kept.pop(self._seq_of.pop(report, 0), None)

    def forget_all(self) -> None:
        """Read everything anew."""
        with self._lock:
            self._forgotten += 1
            self._kept.clear()
            self._seq_of.clear()

    def _keep(self, read: Sequence[HeldCase], found: dict[int, Case]) -> None:
        # The oldest half goes at once: cheaper than to note each use, and rare.
        if len(self._kept) + len(read) > self._most:
            kept = sorted(self._seq_of.items(), key=lambda pair: pair[1])[
                len(self._kept) // 2 :
            ]
            self._kept = {seq: self._kept[seq] for _, seq in kept}
            self._seq_of = dict(kept)
        for held in read:
            self._kept[held.seq] = found[held.seq]
            self._seq_of[held.report_id] = held.seq


def case_of(held: HeldCase) -> Case:
    """Return a stored case with its contributor and what was seen later, by month."""
    case = case_from_text(held.case_body, group=held.group, vouched=held.vouched)
    if not held.followups:
        return case
    bodies = [json.loads(followup) for followup in held.followups]
    seen = sorted(seen_of(case.happened, body["happened"], body["state"]) for body in bodies)
    return case._replace(followups=tuple(seen))
