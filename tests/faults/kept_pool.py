"""A pool to damage: reports in it, an index of them on disk, and the operator's command."""

import json
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest
from click.testing import Result
from typer.testing import CliRunner

from mendpool.admin import app
from mendpool.core.diagnosis.engine import Engine
from mendpool.main import index_folder
from mendpool.settings import Settings
from mendpool.usecases.indexing import Indexing

from tests.api.pools import Pool, running_pool
from tests.databases import Databases
from tests.factories import make_report

REPORTS = 12


@dataclass
class Kept:
    """A pool, its operator and a folder to keep files in."""

    pool: Pool
    folder: Path

    @property
    def file(self) -> Path:
        """The SQLite file."""
        return Path(str(self.pool.store.engine.url.database))

    def run(self, *arguments: str, code: int = 0) -> Result:
        done = CliRunner().invoke(app, arguments)
        assert done.exit_code == code, done.output
        assert done.exception is None or isinstance(done.exception, SystemExit)
        return done

    def check(self, *more: str, code: int = 3) -> list[tuple[str, str]]:
        """Check the pool and return what was found, as part and sentence."""
        told = json.loads(self.run("check", "--json", *more, code=code).stdout)
        assert told["well"] is not bool(told["findings"])
        assert all(finding["todo"] for finding in told["findings"])
        return [(finding["part"], finding["says"]) for finding in told["findings"]]

    def back_up(self, name: str = "backup") -> Path:
        self.run("backup", str(self.folder / name))
        return self.folder / name

    def let_go(self) -> None:
        """Close the database, so that nothing but the file is left."""
        self.pool.store.engine.dispose()

    def index(self) -> None:
        """Put an index of the feed on disk, as a service that tidies does."""
        place, settings = self.pool.service.place, Settings()
        folder = index_folder(settings, place.catalogue, place.store)
        indexing = Indexing(place.store, folder)
        rows = place.store.cases_after(indexing.load(), 10_000)
        indexing.take(rows)
        indexing.keep(whole=True)

    def sql(self, statement: str) -> None:
        """Do to the database what no code of ours does."""
        with self.pool.store.engine.begin() as connection:
            if connection.dialect.name == "sqlite":
                connection.exec_driver_sql("PRAGMA ignore_check_constraints = ON")
            connection.exec_driver_sql(statement)


@contextmanager
def kept_pool(
    databases: Databases, engine: Engine, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Kept]:
    """Give a pool with reports, one of them taken back, and the settings that name it."""
    # Making one takes half a second, and every command would.
    monkeypatch.setattr("mendpool.usecases.learned.Engine", lambda _: engine)
    with running_pool(databases, engine.catalogue) as pool:
        url = pool.store.engine.url.render_as_string(hide_password=False)
        monkeypatch.setenv("MENDPOOL_DATABASE_URL", url)
        monkeypatch.setenv("MENDPOOL_CACHE_DIR", str(folder / "cache"))
        kept = Kept(pool, folder)
        ids = [pool.put(make_report()) for _ in range(REPORTS)]
        assert pool.client("alder").delete(f"/v1/reports/{ids[0]}").status_code == 204
        yield kept
