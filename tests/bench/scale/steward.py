"""What whoever runs a pool waits for: looking it through, and what is to be looked at.

Run: ``python -m tests.bench.scale.steward --reports 30000``. A pool of the simulator's
reports, an index of it on disk, then each command in a process of its own. Prints, beside the
seconds of reading the database's file once; judges nothing.
"""

import argparse
import os
import resource
import subprocess
import sys
import tempfile
import uuid
from collections.abc import Sequence
from pathlib import Path
from time import perf_counter

from mendpool.core.catalogue.files import packaged_catalogue
from mendpool.core.diagnosis.engine import Engine
from mendpool.main import index_folder, scrubber
from mendpool.settings import Settings
from mendpool.store.engine import make_engine
from mendpool.store.migrate import migrate
from mendpool.store.pool_store import PoolStore
from mendpool.usecases.indexing import Indexing
from mendpool.usecases.learned import Learned
from mendpool.usecases.workplace import Workplace

from tests.bench.diagnosis.simulator.pool import Simulator
from tests.bench.diagnosis.simulator.world import TUNING
from tests.bench.scale.bodies import NOW, filled

_POOL = "from mendpool.admin import app; app(prog_name='mendpool pool')"
_COMMANDS = (
    ("check", "--quick"),
    ("check",),
    ("review",),
    ("privacy",),
)


def main(arguments: Sequence[str] | None = None) -> None:
    """Print what each command takes."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--reports", type=int, default=30_000)
    parser.add_argument("--drawn", type=int, default=30_000, help="the rest are retellings")
    parser.add_argument("--folder", type=Path, help="keep the pool there, or use it again")
    asked = parser.parse_args(arguments)
    with tempfile.TemporaryDirectory() as name:
        folder = asked.folder or Path(name)
        file = folder / "pool.db"
        os.environ["MENDPOOL_DATABASE_URL"] = f"sqlite:///{file}"
        os.environ["MENDPOOL_CACHE_DIR"] = str(folder / "cache")
        os.environ["OPENBLAS_NUM_THREADS"] = "1"
        if not file.exists():
            started = perf_counter()
            _fill(min(asked.drawn, asked.reports), asked.reports)
            print(f"filled in {perf_counter() - started:,.0f} s", flush=True)
        started = perf_counter()
        size = len(file.read_bytes())
        print(f"{size / 1e6:,.0f} MB, read in {perf_counter() - started:.2f} s", flush=True)
        for words in (("review", "--trail"), *_COMMANDS):
            _timed(*words)


def _fill(drawn: int, count: int) -> None:
    settings = Settings()
    migrate(settings.database_url)
    catalogue = packaged_catalogue(settings.cache_dir)
    store = PoolStore(make_engine(settings.database_url))
    key = store.init_pool(uuid.UUID(int=1), bytes(range(32)), NOW).key
    place = Workplace(store, Learned(store, catalogue), catalogue, key, scrubber(catalogue))
    filled(place, Simulator(Engine(catalogue), TUNING), drawn, count)
    indexing = Indexing(store, index_folder(settings, catalogue, store))
    indexing.take(store.cases_after(indexing.load(), count + 1))
    indexing.keep(whole=True)
    store.engine.dispose()


def _timed(*words: str) -> None:
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    started = perf_counter()
    done = subprocess.run(
        [sys.executable, "-c", _POOL, *words], capture_output=True, text=True, check=False
    )
    wall = perf_counter() - started
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    cpu = after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime
    lines = done.stdout.splitlines()
    took = f"{wall:.1f} s, CPU {cpu:.1f} s, at most {after.ru_maxrss / 1024:,.0f} MB so far"
    told = f"{len(lines)} lines, ends {done.returncode}; {lines[-1] if lines else ''}"
    print(f"{' '.join(words)}: {took}, {told}"[:300], flush=True)


if __name__ == "__main__":
    main()
