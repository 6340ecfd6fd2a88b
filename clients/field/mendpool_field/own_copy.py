"""Answer from the member's own copy, with the service's own code and so its own bytes."""

import json
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar, cast
from uuid import UUID

from mendpool.core.diagnosis.derive import derived_version
from mendpool.core.errors import MendpoolError, NotFound, RefusedInput, Withdrawn
from mendpool_field.checking import typed
from mendpool_field.copy_place import CopyPlace, CopyState
from mendpool_field.still_copy import StillStore

if TYPE_CHECKING:
    from mendpool.core.catalogue.catalogue import Catalogue
    from mendpool.core.diagnosis.engine import Engine
    from mendpool.index.folder import Folder
    from mendpool.store.copied import CopyStore
    from mendpool.store.pool_store import PoolStore
    from mendpool.usecases.workplace import Workplace

T = TypeVar("T")

_NONSENSE = (ArithmeticError, LookupError, TypeError, ValueError)
"""What comes of files that do not hang together."""


class CopyUnusable(Exception):
    """The copy can't be read; `why` in a few words. It is safe to fetch it anew."""

    def __init__(self, why: str) -> None:
        self.why = why
        super().__init__(why)


@dataclass(frozen=True, slots=True)
class CopyFiles:
    """Where a copy lies: its reports, and its index beside them."""

    reports: Path
    index: Path

    def folder(self, catalogue: "Catalogue") -> "Folder":
        """Return the place of the index made with this catalogue and code."""
        from mendpool.index.folder import Folder

        return Folder(self.index, derived_version(catalogue))


def open_store(files: CopyFiles) -> "CopyStore":
    """Open the reports of a copy.

    In the rollback journal, so that one on a read-only disk can be read.
    """
    from mendpool.store.copied import CopyStore
    from mendpool.store.engine import make_engine

    return CopyStore(make_engine(f"sqlite:///{files.reports}", journal="rollback"))


@contextmanager
def opened(files: CopyFiles) -> "Iterator[CopyStore]":
    """Give the reports of a copy, and let go of them."""
    store = open_store(files)
    try:
        yield store
    finally:
        store.engine.dispose()


class OwnCopy:
    """A copy that answers. Make one and keep it for a session.

    Args:
        state: what is known of it.
        files: where it lies.
        catalogue: the one that came with the command.
        make_engine: makes the engine, where not in the usual way.
    """

    def __init__(
        self,
        state: CopyState,
        files: CopyFiles,
        catalogue: "Catalogue",
        make_engine: "Callable[[], Engine] | None" = None,
    ) -> None:
        self.state = state
        self._make_engine = make_engine
        self._files, self._catalogue = files, catalogue
        self._still = StillStore(files.reports.parent, lambda: open_store(files))
        # It has all of a store: what it does not answer itself it passes on.
        self._store = cast("PoolStore", self._still)
        self._held: Workplace | None = None

    def ask(self, body: Mapping[str, Any]) -> dict[str, Any]:
        """Return the answer to a question."""
        found: dict[str, Any] = json.loads(self.answer_bytes(body))
        return found

    def answer_bytes(self, body: Mapping[str, Any]) -> bytes:
        """Return the answer to a question, the very bytes that `POST /v1/ask` sends.

        Raises:
            RefusedInput: the question can't be used as it is.
            CopyUnusable: the copy can't be read.
        """
        from mendpool.core.record.report import Question
        from mendpool.usecases.ask import ask

        question = typed(Question, body)
        answer = self._tried(lambda: ask(self._place(), question))
        return answer.model_dump_json(by_alias=True, exclude_unset=True).encode()

    def judge(self, body: Mapping[str, Any]) -> dict[str, object]:
        """Judge readings, beside what good sets of that model or kind read.

        Raises:
            RefusedInput, CopyUnusable: as `answer_bytes`.
        """
        from mendpool.core.diagnosis.judging import judge_all
        from mendpool.core.evidence.fit import EMPTY_FIT, Fit
        from mendpool.core.evidence.fit_format import fit_version
        from mendpool.core.record.report import JudgeRequest

        request = typed(JudgeRequest, body)
        version = fit_version(self._catalogue.version)
        # Without an engine: the fit has the norms, and a verdict must be there at once.
        fit = self._tried(lambda: self._store.newest_fit(version))
        norms = (EMPTY_FIT if fit is None else Fit.from_bytes(fit.body)).norms
        return judge_all(request, self._catalogue, norms)

    def show(self, report_id: str) -> dict[str, Any] | None:
        """Return a report; None where the copy does not have it."""
        from mendpool.usecases.workplace import view

        try:
            report = self._tried(lambda: self._store.get_report(UUID(report_id)))
        except (NotFound, Withdrawn):
            return None
        return self._worded(view(report, None))

    def find(self, given: Mapping[str, str]) -> dict[str, Any]:
        """Return a page of reports, as `GET /v1/reports` does.

        Raises:
            RefusedInput, CopyUnusable: as `answer_bytes`.
        """
        from mendpool.store.values import ReportFilters
        from mendpool.usecases.look import find_reports, list_reports

        filters = ReportFilters(
            symptom=given.get("symptom"),
            component=given.get("component"),
            fuel=given.get("fuel"),
            excitation=given.get("excitation"),
            outcome=given.get("outcome"),
        )
        limit, words = int(given.get("limit", "25")), given.get("q")
        page = self._tried(
            lambda: (
                find_reports(self._place(), None, words, filters, limit)
                if words
                else list_reports(self._place(), None, filters, limit, None)
            )
        )
        return {**page, "items": [self._worded(report) for report in page["items"]]}

    def close(self) -> None:
        """Let go of the files."""
        self._still.close()

    def _place(self) -> "Workplace":
        if self._held is None:
            from mendpool.usecases.learned import Learned
            from mendpool.usecases.workplace import Workplace

            learned = Learned(
                self._store,
                self._catalogue,
                self._files.folder(self._catalogue),
                self._make_engine() if self._make_engine is not None else None,
            )
            # The secret seals cursors, and a copy hands none out.
            self._held = Workplace(self._store, learned, self._catalogue, b"", _no_scrubbing)
        return self._held

    def _worded(self, report: dict[str, Any]) -> dict[str, Any]:
        from mendpool.usecases.own_copy import known_cautions, with_cautions

        return with_cautions(report, known_cautions(self._catalogue))

    def _tried(self, call: Callable[[], T]) -> T:
        try:
            return call()
        except (RefusedInput, NotFound, Withdrawn):
            raise
        except (MendpoolError, OSError) as error:
            raise CopyUnusable(str(error)) from error
        except Exception as error:
            if not isinstance(error, _NONSENSE) and not _is_of_database(error):
                raise
            raise CopyUnusable("what it holds does not hang together") from error


def copy_of(
    home: Path,
    catalogue: "Catalogue",
    make_engine: "Callable[[], Engine] | None" = None,
) -> OwnCopy | None:
    """Return the member's copy; None where there is none that can be used."""
    place = CopyPlace(home)
    state = place.state()
    if state is None:
        return None
    files = CopyFiles(place.file(state.folder), place.index(state.folder))
    return OwnCopy(state, files, catalogue, make_engine)


def _is_of_database(error: Exception) -> bool:
    # By name, so that a copy that needs no database does not load what reads one.
    return any(kind.__module__.startswith("sqlalchemy.") for kind in type(error).__mro__)


def _no_scrubbing(_: dict[str, Any]) -> tuple[dict[str, Any], dict[str, int]]:
    raise AssertionError  # pragma: no cover - nothing is filed in a copy
