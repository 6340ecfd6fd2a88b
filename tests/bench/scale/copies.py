"""A member's own copy: what fetching it takes, what it weighs, and a cold answer from it.

Run: ``python -m tests.bench.scale.copies --reports 10000``. A pool of the simulator's reports
is served on loopback; the command is started anew for each answer, as a member would. Prints,
beside a Python that does nothing and one that only loads the command; judges nothing.
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

from uuid_utils.compat import uuid7

from mendpool.api.app import make_app
from mendpool.api.context import Service, new_limiter
from mendpool.core.catalogue.files import packaged_catalogue
from mendpool.core.diagnosis.engine import Engine
from mendpool.core.evidence.fit_format import fit_version
from mendpool.main import scrubber
from mendpool.store.engine import make_engine
from mendpool.store.migrate import migrate
from mendpool.store.pool_store import PoolStore
from mendpool.usecases.learned import Learned
from mendpool.usecases.members import add_member
from mendpool.usecases.snapshot import Snapshots
from mendpool.usecases.workplace import Workplace

from tests.api.real_server import served
from tests.bench.diagnosis.simulator.pool import Simulator
from tests.bench.diagnosis.simulator.world import TUNING
from tests.bench.scale.bodies import NOW, filled

_COMMAND = (sys.executable, "-m", "mendpool_field.cli")
_QUESTION = ("--fuel", "diesel", "engine runs sweet but no power at the outlets")
_NEW = 100


def main(arguments: Sequence[str] | None = None) -> None:
    """Print what each step takes."""
    asked = _arguments(arguments)
    catalogue = packaged_catalogue()
    simulator = Simulator(Engine(catalogue), TUNING)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        url = f"sqlite:///{folder / 'pool.db'}"
        migrate(url)
        store = PoolStore(make_engine(url))
        key = store.init_pool(uuid.UUID(int=1), bytes(range(32)), NOW).key
        learned = Learned(store, catalogue)
        place = Workplace(store, learned, catalogue, key, scrubber(catalogue))
        drawn = min(asked.drawn, asked.reports)
        filled(place, simulator, drawn, asked.reports)
        started = perf_counter()
        learned.fit_if_due(NOW, at_once=True)
        print(f"fit {perf_counter() - started:,.1f} s, {_fit_bytes(store) / 1e6:.2f} MB")
        token = add_member(store, "asker", "member", NOW).token
        snapshots = Snapshots(place, folder / "snapshots")
        started = perf_counter()
        packed = snapshots.newest(600)
        size = packed.size / 1e6 if packed else 0
        print(f"packed {size:.2f} MB in {perf_counter() - started:,.1f} s")
        service = Service(place, lambda: NOW, uuid7, 10**6, 10**6, new_limiter(), snapshots)
        with served(make_app(service)) as address:
            env = _environment(folder, address, token)
            _timed(env, "first sync", "sync", "--json")
            copy = folder / "home" / "copy"
            index = sum(_size(path) for path in copy.glob("*/index"))
            print(f"copy {_size(copy) / 2**20:.1f} MiB, of it index {index / 2**20:.1f}")
            for _ in range(asked.times):
                _timed(env, "cold ask from the copy", "ask", "--offline", *_QUESTION)
            for _ in range(2):
                _timed(env, "cold ask of the pool", "ask", *_QUESTION)
            _timed(env, "cold judge from the copy", "judge", "--offline", "residual 0.4 V")
            filled_again(place, simulator, asked.reports)
            _timed(env, f"sync of {_NEW} new", "sync", "--json")
            _timed(env, "sync of nothing new", "sync", "--json")
        _floor(env)
        store.engine.dispose()


def filled_again(place: Workplace, simulator: Simulator, held: int) -> None:
    """Put a hundred reports more into the pool."""
    from mendpool.core.record.report import Report  # noqa: PLC0415
    from mendpool.usecases.file_report import file_report  # noqa: PLC0415

    from tests.bench.scale.bodies import body_of, report_id  # noqa: PLC0415

    member = place.store.list_members()[0]
    for number, drawn in enumerate(simulator.reports(_NEW)):
        body = body_of(drawn)
        report = Report.model_validate(body)
        file_report(place, member, report_id(held + number), body, report, NOW)


def _timed(env: dict[str, str], name: str, *args: str) -> None:
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    started = perf_counter()
    done = subprocess.run(
        [*_COMMAND, *args], env=env, capture_output=True, text=True, check=False
    )
    wall = perf_counter() - started
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    user = after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime
    told = " ".join((done.stdout if args[0] == "sync" else done.stderr).split())[:300]
    print(f"{name}: {wall:.2f} s, CPU {user:.2f} s (ends {done.returncode}) {told}", flush=True)


def _floor(env: dict[str, str]) -> None:
    for name, code in (("a Python that does nothing", "pass"),
                       ("the command, loaded only", "import mendpool_field.cli")):  # fmt: skip
        started = perf_counter()
        subprocess.run([sys.executable, "-c", code], env=env, check=True)
        print(f"{name}: {perf_counter() - started:.2f} s")


def _environment(folder: Path, address: str, token: str) -> dict[str, str]:
    kept = {k: v for k, v in os.environ.items() if not k.startswith("MENDPOOL_")}
    return {
        **kept,
        "MENDPOOL_URL": address,
        "MENDPOOL_TOKEN": token,
        "MENDPOOL_HOME": str(folder / "home"),
        "OPENBLAS_NUM_THREADS": "1",
    }


def _fit_bytes(store: PoolStore) -> int:
    fit = store.newest_fit(fit_version(packaged_catalogue().version))
    return 0 if fit is None else len(fit.body)


def _size(folder: Path) -> int:
    return sum(file.stat().st_size for file in folder.rglob("*") if file.is_file())


def _arguments(given: Sequence[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0] if __doc__ else "")
    parser.add_argument("--reports", type=int, default=10_000)
    parser.add_argument("--drawn", type=int, default=10_000, help="different ones")
    parser.add_argument("--times", type=int, default=5, help="cold answers")
    return parser.parse_args(given)


if __name__ == "__main__":
    main()
