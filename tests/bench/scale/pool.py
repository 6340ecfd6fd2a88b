"""A whole pool on SQLite: from the feed to the cases of a question, with nothing left out.

Run: ``python -m tests.bench.scale.pool --reports 100000``. Rows are put into a file directly,
many at a time; everything after that is what the service does. Prints; judges nothing.
"""

import argparse
import json
import os
import tempfile
import uuid
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from itertools import islice
from pathlib import Path
from time import perf_counter

from sqlalchemy import insert

from mendpool.core.catalogue.files import packaged_catalogue
from mendpool.core.evidence.case import case_to_text
from mendpool.index.folder import Folder
from mendpool.store.engine import make_engine
from mendpool.store.migrate import migrate
from mendpool.store.pool_store import PoolStore
from mendpool.store.tables import CHANGE, REPORT
from mendpool.usecases.learned import Learned

from tests.bench.scale.made import Source, drawn_cases, reports, source_of

_NOW = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)
_PAGE = 5000
_MEMBERS = 500


def main(arguments: Sequence[str] | None = None) -> None:
    """Print what each step takes."""
    asked = _arguments(arguments)
    simulator, drawn = drawn_cases(asked.cases)
    of = source_of(simulator, drawn, asked.questions)
    like = [json.loads(case_to_text(case)) for case in drawn]
    with tempfile.TemporaryDirectory() as folder:
        with _timed("rows put into the file (not the service's own way)"):
            store = _filled(Path(folder), of, like, asked.reports)
        print(f"  file {_size(Path(folder)) / 1e6:,.0f} MB")
        place = Folder(Path(folder) / "index", "bench")
        catalogue = packaged_catalogue()
        learned = Learned(store, catalogue, place)
        with _timed("index made of the feed"):
            learned.catch_up()
        print(f"  index on disk {_size(Path(folder) / 'index') / 1e6:,.0f} MB")
        again = Learned(store, catalogue, place)
        with _timed("index of the next process, from the disk"):
            again.catch_up()
        del learned
        _ask(again, of, "questions, no case in memory")
        _ask(again, of, "the same questions again")
        print(f"resident now {_resident():,.0f} MB")
        if asked.fit:
            with _timed("fit"):
                again.fit_if_due(_NOW, at_once=True)
            print(f"resident after {_resident():,.0f} MB")
        store.engine.dispose()


def _ask(learned: Learned, of: Source, name: str) -> None:
    whole, index = [], []
    for question in of.questions:
        started = perf_counter()
        learned.search(question)
        whole.append((perf_counter() - started) * 1000)
        view = learned._index.view()
        started = perf_counter()
        view.search(question, 300)
        index.append((perf_counter() - started) * 1000)
    for what, times in (("feed, index and cases", sorted(whole)), ("index", sorted(index))):
        p50, p99 = times[len(times) // 2], times[int(0.99 * len(times))]
        print(f"{name}: {what:22} p50 {p50:7.2f} ms  p99 {p99:7.2f} ms")


def _filled(folder: Path, of: Source, like: list[dict[str, object]], count: int) -> PoolStore:
    url = f"sqlite:///{folder / 'pool.db'}"
    migrate(url)
    store = PoolStore(make_engine(url))
    store.init_pool(uuid.UUID(int=1), bytes(range(32)), _NOW)
    for number in range(_MEMBERS):
        store.add_member(
            f"m{number}",
            "member",
            token_sha256=f"{number:064x}",
            token_prefix=f"mp_{number}",
            pseudonym=f"hand-{number}",
            vouched=True,
            now=_NOW,
        )
    made, seq = reports(of, count), 0
    while page := list(islice(made, _PAGE)):
        rows, lines = [], []
        for report, terms in page:
            seq += 1
            case = {**like[seq % len(like)], "id": str(report), "terms": terms}
            rows.append(_row(seq, report, json.dumps(case, separators=(",", ":"))))
            lines.append({"seq": seq, "kind": "report", "ref": str(report), "at": _NOW})
        with store.engine.begin() as connection:
            connection.execute(insert(REPORT), rows)
            connection.execute(insert(CHANGE), lines)
    return store


def _row(seq: int, report: uuid.UUID, case: str) -> dict[str, object]:
    return {
        "id": report,
        "seq": seq,
        "member_id": 1 + seq % _MEMBERS,
        "received_at": _NOW,
        "sameness": "-",
        "body": "{}" + " " * 1500,
        "case_body": case,
        "derived_version": "1",
        "fuel": "diesel",
        "outcome": "repaired",
    }


@contextmanager
def _timed(name: str) -> Iterator[None]:
    started = perf_counter()
    yield
    print(f"{name}: {perf_counter() - started:,.1f} s", flush=True)


def _resident() -> float:
    pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


def _size(folder: Path) -> int:
    return sum(file.stat().st_size for file in folder.rglob("*") if file.is_file())


def _arguments(given: Sequence[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0] if __doc__ else "")
    parser.add_argument("--reports", type=int, default=100_000)
    parser.add_argument("--questions", type=int, default=100)
    parser.add_argument("--cases", type=int, default=400, help="cases of the simulator")
    parser.add_argument("--fit", action="store_true", help="make a fit of them all too")
    return parser.parse_args(given)


if __name__ == "__main__":
    main()
