"""What a process has learned from the feed: the index and the newest fit."""

import json
import threading
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.diagnosis.derive import seen_of
from mendpool.core.diagnosis.engine import Engine
from mendpool.core.errors import Conflict
from mendpool.core.evidence.case import Case, case_from_text
from mendpool.core.evidence.fit import Fit, due, fit
from mendpool.index.postings import Postings
from mendpool.store.pool_store import PoolStore
from mendpool.store.values import CaseRow

_PAGE = 2000


@dataclass(frozen=True, slots=True)
class Found:
    """What a search gives: the cases, how many were searched, and by which fit."""

    cases: Sequence[Case]
    searched: int
    fit_name: str | None
    engine: Engine


class Learned:
    """Follows the feed. Safe for threads; one for a process."""

    def __init__(self, store: PoolStore, catalogue: Catalogue) -> None:
        self._store = store
        self._lock = threading.Lock()
        self._postings = Postings()
        self._seq = 0
        self._cut = 0
        self._engine = Engine(catalogue)

    @property
    def engine(self) -> Engine:
        """The engine with the newest fit held."""
        return self._engine

    def catch_up(self) -> None:
        """Read what the feed holds that this process has not seen."""
        with self._lock:
            self._catch_up()

    def newest_fit(self) -> Fit:
        """Return the newest fit there is, with what the feed holds read first."""
        with self._lock:
            self._catch_up()
            return self._engine.fit

    def search(self, weights: Mapping[str, int], limit: int = 300) -> Found:
        """Return the cases most like a question, every acknowledged report among them."""
        with self._lock:
            self._catch_up()
            cases = self._postings.search(weights, limit)
            name = f"reports-{self._engine.fit.reports}" if self._engine.fit.reports else None
            return Found(cases, len(self._postings), name, self._engine)

    def fit_if_due(self, now: datetime, *, at_once: bool = False) -> bool:
        """Make and keep a new fit if enough came in since the last, or `at_once`.

        Returns:
            Whether a new one was made.
        """
        with self._lock:
            self._catch_up()
            if not at_once and not due(len(self._postings), self._engine.fit.reports):
                return False
            made = fit(self._postings.cases())
            version = self._engine.catalogue.version
            try:
                self._store.save_fit(self._seq, version, made.to_bytes(), now)
            except Conflict:
                return False
            self._catch_up()
            return True

    def _catch_up(self) -> None:
        while True:
            rows = self._store.cases_after(self._seq, _PAGE)
            fits = False
            for row in rows:
                self._take(row)
                fits = fits or row.kind == "fit"
                self._seq = row.seq
            if fits:
                self._take_fit()
            if len(rows) < _PAGE:
                return

    def _take(self, row: CaseRow) -> None:
        if row.kind == "withdrawal" and row.report_id is not None:
            self._postings.remove(str(row.report_id))
        if row.case_body is None or row.report_id is None or row.group is None:
            return
        name = str(row.report_id)
        if row.kind == "report":
            case = case_from_text(row.case_body, group=row.group, vouched=bool(row.vouched))
            self._postings.add(case)
        elif row.kind == "followup":
            body = json.loads(row.case_body)
            case_held = self._postings.get(name)
            happened = None if case_held is None else case_held.happened
            self._postings.follow_up(name, seen_of(happened, body["happened"], body["state"]))

    def _take_fit(self) -> None:
        stored = self._store.newest_fit(self._engine.catalogue.version)
        if stored is None or stored.cut_seq <= self._cut:
            return
        self._cut = stored.cut_seq
        # A new engine rather than a changed one: an answer under way keeps its own.
        self._engine = self._engine.with_fit(Fit.from_bytes(stored.body))
