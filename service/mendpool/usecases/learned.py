"""What a process has learned from the feed: the index and the newest fit."""

import logging
import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.diagnosis.engine import Engine
from mendpool.core.errors import Conflict
from mendpool.core.evidence.case import Case
from mendpool.core.evidence.fit import Fit, due
from mendpool.core.evidence.fit_format import fit_version
from mendpool.index.folder import Folder
from mendpool.index.view import View
from mendpool.usecases.apart import Apart, Job
from mendpool.usecases.indexing import Indexing
from mendpool.usecases.ledger_folder import LedgerFolder
from mendpool.usecases.make_fit import GivenUp, made_fit
from mendpool.usecases.stretches import Gather

if TYPE_CHECKING:
    # Nothing here makes a store: the command must not load a database for each answer.
    from mendpool.store.pool_store import PoolStore

_FIT_TRIES = 5
_FIT_WAIT_S = 600
_ASK_AGAIN_S = 1
_PROCESS_FROM = 2000
"""Reports from which a fit takes longer than a process takes to start."""
_UNSEEN_MOST = 32
"""Few enough that a question that comes first reads them in a few milliseconds."""
_PAUSE_S, _LATEST_S = 0.5, 5.0
"""A fit waits for a pause in what is filed here, but not for ever. While writes come in one
after the other, a fit of each 64 took a fifth of the processor and made the slowest of them."""

_log = logging.getLogger("mendpool")
Derive = Callable[[Callable[[], bool]], object]


@dataclass(frozen=True, slots=True)
class Found:
    """What a search gives: the cases, how many were searched, and by which fit."""

    cases: Sequence[Case]
    searched: int
    fit_name: str | None
    engine: Engine


@dataclass(frozen=True, slots=True)
class Held:
    """All that is held at one moment: the reports, whom they vouch for, the newest engine.

    `gone` is the last line of the feed that took something back.
    """

    view: View
    vouched: frozenset[int]
    engine: Engine
    gone: int


class Learned:
    """Follows the feed. Safe for threads; one for a process.

    A fit and the tidying of the index are done at once by whoever asks for them, as the
    field command and most tests want it, until `work_apart` gives them a thread.
    """

    def __init__(
        self,
        store: "PoolStore",
        catalogue: Catalogue,
        folder: Folder | None = None,
        engine: Engine | None = None,
        ledger: LedgerFolder | None = None,
        gather: Gather | None = None,
    ) -> None:
        """Begin with what `folder` has of the index and `ledger` of the fit, else anew.

        `engine`, if given, is of this catalogue and has no fit: making one takes half a
        second, and a process that opens many pools needs it but once. `gather` helps to read
        a long feed.
        """
        self._store = store
        self._ledger = ledger
        self._in_process = False
        self._lock = threading.Lock()
        self._index = Indexing(store, folder, gather)
        self._apart: Apart | None = None
        self._deriving: Apart | None = None
        self._cut = 0
        self._unseen = 0  # reports filed here since the feed was last looked at for a fit
        self._erasing: Job | None = None  # what is still to be wiped from the database
        self._vouched: frozenset[int] = frozenset()  # by what they filed, not when they came
        self._fit_waits = False  # one is due, and waits for a pause
        self._gone = 0  # the last withdrawal that was read
        self._engine = engine or Engine(catalogue)
        self._seq: int | None = None  # until the index is loaded

    @property
    def engine(self) -> Engine:
        """The engine with the newest fit held."""
        return self._engine

    def work_apart(self, *, in_process: bool = False) -> None:
        """From now on no request waits for a fit or for the index to be tidied.

        Args:
            in_process: make the fit of a large pool in a process of its own.
        """
        self._in_process = in_process
        if self._apart is None:
            self._apart = Apart()

    def settle(self, timeout_s: float = 60) -> bool:
        """Wait until what is done apart is done; tell whether that came to pass."""
        return all(apart.settle(timeout_s) for apart in self._aparts())

    def stop(self) -> None:
        """End what is done apart; a fit that is under way is given up."""
        for apart in self._aparts():
            apart.stop()

    def derive_apart(self, derive: Derive) -> None:
        """Answer with the cases as they are while they are derived again; then change over.

        One process at a time derives; the next finds nothing left to do and only makes its
        index anew.

        Args:
            derive: does it; what it is given tells whether to go on.
        """
        with self._lock:
            self._index.discard()
        # Until all are derived, a ledger would hold some cases as they were.
        ledger, self._ledger = self._ledger, None
        if ledger is not None:
            ledger.discard()
        apart = self._deriving = Apart()

        def job() -> None:
            mine = False
            while not mine and not apart.stopping:
                with self._store.alone("derive", _ASK_AGAIN_S) as mine:
                    if mine:
                        derive(lambda: not apart.stopping)
            if not apart.stopping:
                self._index.rebuild()
                self._ledger = ledger

        apart.put("derive again", job)

    def catch_up(self) -> None:
        """Read what the feed holds that this process has not seen."""
        with self._lock:
            self._catch_up()
        if self._index.untidy:
            self._later("tidy the index", self._index.tidy)

    def behind(self) -> int:
        """Return how many changes of the feed have not been read here."""
        return max(0, self._store.last_seq() - (self._seq or 0))

    def catch_up_apart(self) -> None:
        """Have the feed read while nobody waits for it."""
        self._later("read the feed", self.catch_up)

    def newest_fit(self) -> Fit:
        """Return the newest fit there is, with what the feed holds read first."""
        self.catch_up()
        return self._engine.fit

    def search(self, weights: Mapping[str, int], limit: int = 300) -> Found:
        """Return the cases most like a question, every acknowledged report among them."""
        self.catch_up()
        with self._lock:
            view, engine, vouched = self._index.view(), self._engine, self._vouched
        # From here on nobody waits for this search, and it waits for nobody.
        name = f"reports-{engine.fit.reports}" if engine.fit.reports else None
        cases = view.cases(weights, limit).vouching_for(vouched)
        return Found(cases, len(view), name, engine)

    def held(self) -> Held:
        """Return all that is held, with what the feed has read first."""
        self.catch_up()
        with self._lock:
            return Held(self._index.view(), self._vouched, self._engine, self._gone)

    def do_apart(self, name: str, job: Job) -> None:
        """Have something done that no request waits for; at once where nothing is apart."""
        self._later(name, job)

    def filed(self, now: datetime) -> None:
        """Hear that a report was filed here; see now and then whether a fit is due.

        To look after every report would cost half as much as to keep it.
        """
        self._unseen += 1  # two threads at once may count one: it is looked a bit later
        if self._apart is None:
            self._unseen = 0
            self.fit_if_due(now)
            return
        many = self._unseen >= _UNSEEN_MOST
        is_due = due(self._index.count + self._unseen, self._engine.fit.reports)
        if not (many or is_due or self._fit_waits):
            return
        if many:
            self._unseen = 0
            # The fit may wait; the next question should not find many reports unread.
            self.catch_up_apart()
        self.fit_if_due(now, pause_s=_PAUSE_S)

    def fit_if_due(
        self,
        now: datetime,
        *,
        at_once: bool = False,
        then: Job | None = None,
        pause_s: float = 0,
    ) -> None:
        """Have a new fit made and kept if enough came in since the last, or `at_once`.

        It is due as well where something was taken back that the newest fit learned from.

        Args:
            now: aware.
            at_once: whatever came in, since something was taken back.
            then: done afterwards if something was taken back, now or before a process ended
                that should have done this.
            pause_s: not before nothing was filed here for so long, within reason.
        """
        self._fit_waits = pause_s > 0

        def job() -> None:
            self._fit_waits = False
            self._unseen = 0
            self.catch_up()
            forgetting = at_once or self._holds_what_is_gone()
            if forgetting or self._is_due():
                self._fit_if_due(now, at_once=at_once)
            if forgetting:
                self._index.forget()
                self._erasing = then or self._erasing
            # What fails, such as for a reader that holds the log, is due until it is done.
            if self._erasing is not None:
                self._erasing()
                self._erasing = None

        name = "forget what was taken back" if at_once else "make a fit"
        self._later(name, job, pause_s)

    def _aparts(self) -> list[Apart]:
        return [apart for apart in (self._apart, self._deriving) if apart is not None]

    def _later(self, name: str, job: Job, pause_s: float = 0) -> None:
        if self._apart is None:
            job()
        else:
            self._apart.put(name, job, pause_s, _LATEST_S if pause_s else 0)

    def _fit_if_due(self, now: datetime, *, at_once: bool) -> None:
        # One process makes it for all; the others get it with the feed.
        with self._store.alone("fit", _FIT_WAIT_S if at_once else 0) as mine:
            for _ in range(_FIT_TRIES if mine else 0):
                self.catch_up()
                if not at_once and not self._is_due():
                    return
                try:
                    self._make_fit(now)
                except Conflict:
                    continue  # something was taken back meanwhile
                except GivenUp:
                    return
                self.catch_up()
                return

    def _is_due(self) -> bool:
        return due(self._index.count, self._engine.fit.reports) or self._holds_what_is_gone()

    def _holds_what_is_gone(self) -> bool:
        """Tell whether the newest fit learned from a report that was taken back since."""
        return 0 < self._cut < self._gone

    def _make_fit(self, now: datetime) -> None:
        cut = self._seq or 0
        body = self._made_apart(cut)
        if body is None:
            expected = self._engine.expectations
            body = made_fit(self._store, expected, cut, self._ledger, self._goes_on)
        self._store.save_fit(cut, fit_version(self._engine.catalogue.version), body, now)

    def _made_apart(self, cut: int) -> bytes | None:
        """Return the fit as another process made it; None where it has to be made here."""
        if not self._in_process or self._index.count < _PROCESS_FROM:
            return None
        # Only here: the field command never has a fit made apart, and must begin at once.
        from mendpool.usecases import fit_process  # noqa: PLC0415

        address = self._store.engine.url.render_as_string(hide_password=False)
        order = fit_process.Order(address, self._engine.catalogue, cut, self._ledger)
        try:
            return fit_process.fit_apart(order, self._goes_on)
        except fit_process.NoProcess as error:
            _log.warning("a fit is made by the service itself: %s", error)
            return None

    def _goes_on(self) -> bool:
        return self._apart is None or not self._apart.stopping

    def _catch_up(self) -> None:
        if self._seq is None:
            self._seq = self._index.load()
            self._gone = self._store.last_withdrawal()
            self._take_fit()
            self._vouched = self._store.vouched_since(self._seq)
        for stretch in self._index.follow(self._seq):
            self._seq = stretch.seq
            self._gone = max(self._gone, stretch.gone)
            if "fit" in stretch.kinds:
                self._take_fit()
            if stretch.kinds & {"followup", "withdrawal"}:
                self._vouched = self._store.vouched_since(self._seq)

    def _take_fit(self) -> None:
        stored = self._store.newest_fit(fit_version(self._engine.catalogue.version))
        if stored is None or stored.cut_seq <= self._cut:
            return
        self._cut = stored.cut_seq
        # A new engine rather than a changed one: an answer under way keeps its own.
        self._engine = self._engine.with_fit(Fit.from_bytes(stored.body))
