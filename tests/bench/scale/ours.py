"""Ours: a pool on either database, opened as the service opens it, and asked as it asks.

Rows are put into the database directly, many at a time, with a case derived once for all
sizes; everything after that is what the service does. The fit is made of the first reports
and kept as the pool's own, so that no row of the table pays for making one.
"""

import hashlib
import json
import shutil
import tempfile
import uuid
from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import UTC, datetime
from itertools import islice
from pathlib import Path
from time import perf_counter

from sqlalchemy import Engine as Database
from sqlalchemy import func, insert, select
from sqlalchemy.engine import make_url

from mendpool.core.catalogue.files import packaged_catalogue
from mendpool.core.diagnosis.derive import derived_version
from mendpool.core.diagnosis.engine import Engine
from mendpool.core.evidence.case import case_from_text
from mendpool.core.evidence.fit import Fit, fit
from mendpool.core.evidence.fit_format import FIT_FORMAT, fit_version
from mendpool.core.record.report import Question
from mendpool.main import open_place
from mendpool.settings import Settings
from mendpool.store.engine import make_engine
from mendpool.store.migrate import migrate
from mendpool.store.pool_store import PoolStore
from mendpool.store.tables import CHANGE, REPORT
from mendpool.usecases.ask import ask
from mendpool.usecases.members import digest

from tests.bench.scale.corpus import Corpus
from tests.bench.scale.drawn import Asked
from tests.bench.scale.postgres import Server
from tests.bench.scale.sides import TOP, Way, resident, size_of

TOKEN = "mpb0b0b0b0b0_bench"
FITTED = 100_000
"""Reports that the fit is made of; the drawn ones, and none that is told again."""

_NOW = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)
_PAGE = 5000
_MEMBERS = 150
_CANDIDATES = 300
_BODY = json.dumps({"complaint": "-" * 1400})
_REPORT_COLUMNS = (
    "id", "seq", "member_id", "received_at", "sameness", "body", "case_body",
    "derived_version", "fuel", "outcome",
)  # fmt: skip


class Ours:
    """A pool on one database, in this process."""

    def __init__(self, running: Server | None, cache: Path) -> None:
        """Take SQLite, or a server.

        Args:
            running: the server; None is SQLite.
            cache: where the index goes, for a service of the same database to take over.
        """
        self._server = running
        self._cache = cache
        self._name = "SQLite" if running is None else "PostgreSQL"

    def build(self, corpus: Corpus) -> float:
        """Fill the database, then time what the service does of it: the index."""
        url = filled(corpus, self._server)
        shutil.rmtree(self._cache / "index", ignore_errors=True)
        settings = Settings(database_url=url, cache_dir=self._cache)
        packaged_catalogue(self._cache)
        started = perf_counter()
        self._place = open_place(settings)
        return perf_counter() - started

    def ways(self) -> Mapping[str, Way]:
        """Return the index alone, understanding and searching, and the whole answer."""
        return {
            f"ours {self._name}: index": self._index,
            f"ours {self._name}: search": self._search,
            f"ours {self._name}: answer": self._answer,
        }

    def forget(self) -> None:
        """Drop the words looked up for questions before; no case is kept between them."""
        reader = self._place.learned.engine.reader
        reader._spelling.mend.cache_clear()
        reader._remember()

    def disk(self) -> float:
        """Return the index on disk; the pool itself is the pool's."""
        return size_of(self._cache / "index")

    def memory(self) -> float:
        """Return this process's."""
        return resident()

    def close(self) -> None:
        """Let go of the database."""
        self._place.store.engine.dispose()

    def _index(self, question: Asked) -> tuple[float, list[int]]:
        engine = self._place.learned.engine
        terms = engine.search_terms(engine.understand(_question(question)))
        started = perf_counter()
        hits = self._place.learned._index.view().search(terms, _CANDIDATES)
        took = perf_counter() - started
        return took, [hit.seq for hit in hits[:TOP]]

    def _search(self, question: Asked) -> tuple[float, list[int]]:
        asked = _question(question)
        started = perf_counter()
        engine = self._place.learned.engine
        terms = engine.search_terms(engine.understand(asked))
        hits = self._place.learned._index.view().search(terms, _CANDIDATES)
        took = perf_counter() - started
        return took, [hit.seq for hit in hits[:TOP]]

    def _answer(self, question: Asked) -> tuple[float, list[int]]:
        asked = _question(question)
        started = perf_counter()
        answer = ask(self._place, asked)
        took = perf_counter() - started
        return took, numbers_of(self._place.store, [s.report for s in answer.similar[:TOP]])


def _question(question: Asked) -> Question:
    return Question.model_validate(question.body)


def numbers_of(store: PoolStore, reports: list[str]) -> list[int]:
    """Return the numbers of reports in their order."""
    wanted = [uuid.UUID(report) for report in reports]
    with store.engine.connect() as connection:
        rows = connection.execute(
            select(REPORT.c.id, REPORT.c.seq).where(REPORT.c.id.in_(wanted))
        )
        number = {uuid.UUID(str(row.id)): int(row.seq) for row in rows}
    return [number[report] for report in wanted]


def filled(corpus: Corpus, running: Server | None) -> str:
    """Return the address of the database with the corpus in it; SQLite's file is kept."""
    if running is not None:
        name = f"ours_{corpus.count}"
        url = running.url(name)
        if not _is_filled(url, corpus, running, name):
            running.make(name)
            fill(url, corpus, running, fitted(corpus))
        return url
    # What the service would do anew if it found it made otherwise.
    made_by = derived_version(packaged_catalogue()) + fit_version(packaged_catalogue().version)
    version = hashlib.sha256(made_by.encode()).hexdigest()[:12]
    file = corpus.folder / f"pool-{version}.sqlite3"
    if not file.exists():
        beside = Path(tempfile.mkdtemp(dir=corpus.folder)) / "pool.sqlite3"
        fill(f"sqlite:///{beside}", corpus, None, fitted(corpus))
        beside.rename(file)
        shutil.rmtree(beside.parent)
    migrate(f"sqlite:///{file}")  # one that was kept from before a migration
    return f"sqlite:///{file}"


def _is_filled(url: str, corpus: Corpus, running: Server, name: str) -> bool:
    with running.connect("postgres") as connection:
        there = connection.execute("SELECT 1 FROM pg_database WHERE datname = %s", (name,))
        if there.fetchone() is None:
            return False
    engine = make_engine(url)
    with engine.connect() as connection:
        held = connection.execute(select(func.count()).select_from(REPORT)).scalar_one()
    engine.dispose()
    return bool(held == corpus.count)


def fill(url: str, corpus: Corpus, running: Server | None, learned: Fit | None) -> None:
    """Make a pool of the corpus in an empty database, with a fit if one is given."""
    migrate(url)
    store = PoolStore(make_engine(url))
    store.init_pool(uuid.UUID(int=corpus.count), bytes(range(32)), _NOW)
    for number in range(_MEMBERS):
        name = f"m{number}"
        token = TOKEN if number == 0 else name
        prefix = TOKEN[:12] if number == 0 else name
        store.add_member(name, "member", digest(token), prefix, f"hand-{number}", _NOW)
    rows = _rows(corpus)
    if running is None:
        _insert(store.engine, rows)
    else:
        _copy(running, make_url(url).database or "", rows)
    if learned is not None:
        # It counts as one of all of them, so that the service finds none due and makes none.
        body = replace(learned, reports=corpus.count).to_bytes()
        version = fit_version(packaged_catalogue().version)
        store.save_fit(corpus.count, version, body, _NOW)
    store.engine.dispose()


def fitted(corpus: Corpus) -> Fit:
    """Return the fit of the first reports, made once."""
    of = min(FITTED, corpus.count)
    # Corpora of the same drawn reports begin alike, so one fit serves them.
    file = corpus.folder.parent / f"fit-{FIT_FORMAT}-{of}-of-{corpus.drawn}.json"
    if not file.exists():
        cases = (
            case_from_text(case, group=group, vouched=True)
            for group, case in islice(corpus.cases(), FITTED)
        )
        made = fit(cases, Engine(packaged_catalogue()).expectations)
        file.write_bytes(made.to_bytes())
    return Fit.from_bytes(file.read_bytes())


def _rows(corpus: Corpus) -> Iterator[dict[str, object]]:
    version = derived_version(packaged_catalogue())
    for seq, (group, case) in enumerate(corpus.cases(), 1):
        # The id stands at the very beginning of a case.
        name = case[case.index('"id":"') + 6 :][:36]
        values = (
            uuid.UUID(name), seq, 1 + group % _MEMBERS, _NOW, "-", _BODY, case, version,
            "diesel", "repaired",
        )  # fmt: skip
        yield dict(zip(_REPORT_COLUMNS, values, strict=True))


def _insert(engine: Database, rows: Iterator[dict[str, object]]) -> None:
    while page := list(islice(rows, _PAGE)):
        with engine.begin() as connection:
            connection.execute(insert(REPORT), page)
            connection.execute(insert(CHANGE), [_line(row) for row in page])


def _line(row: Mapping[str, object]) -> dict[str, object]:
    return {"seq": row["seq"], "kind": "report", "ref": str(row["id"]), "at": _NOW}


def _copy(running: Server, database: str, rows: Iterator[dict[str, object]]) -> None:
    with running.connect(database) as connection:
        names = ", ".join(_REPORT_COLUMNS)
        while page := list(islice(rows, 20 * _PAGE)):
            cursor = connection.cursor()
            with cursor.copy(f"COPY report ({names}) FROM STDIN".encode()) as copy:
                for row in page:
                    copy.write_row(tuple(row.values()))
            with cursor.copy(b"COPY change (seq, kind, ref, at) FROM STDIN") as copy:
                for row in page:
                    copy.write_row(tuple(_line(row).values()))
        connection.execute("VACUUM ANALYZE")
