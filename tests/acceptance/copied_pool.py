"""A served pool with the invented co-op in it, and members' homes that copy it."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from typer.testing import CliRunner, Result

from mendpool.api.app import make_app
from mendpool.coop.reports import invented_reports
from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.record.report import Followup, Report
from mendpool.store.engine import make_engine
from mendpool.store.migrate import migrate
from mendpool.store.move import move
from mendpool.store.pool_store import PoolStore
from mendpool.usecases.file_report import file_report, new_report
from mendpool.usecases.follow_up import follow_up
from mendpool.usecases.learned import Learned
from mendpool.usecases.snapshot import Snapshots
from mendpool_field.cli import app

from tests.api.pools import START, Pool, running_pool
from tests.api.real_server import served
from tests.databases import Databases
from tests.engines import engine_of


@dataclass
class CopiedPool:
    """A pool, where it is served, and its packed feed."""

    pool: Pool
    url: str
    snapshots: Snapshots
    cache: Path

    def member(self, home: Path, name: str = "birch") -> "Member":
        return Member(self, home, self.pool.members[name].token)


@dataclass
class Member:
    """The command of a member."""

    of: CopiedPool
    home: Path
    token: str

    def run(self, *args: str, **more: str | None) -> Result:
        env: dict[str, str | None] = {
            "MENDPOOL_URL": self.of.url,
            "MENDPOOL_TOKEN": self.token,
            "MENDPOOL_HOME": str(self.home),
            "MENDPOOL_CACHE_DIR": str(self.of.cache),
            "COLUMNS": "100",
        }
        return CliRunner().invoke(app, list(args), env={**env, **more})


def fill(pool: Pool, most: int = 1000) -> None:
    """Put the invented co-op into a pool, each report by its own member, and learn from it."""
    place = pool.service.place
    reports = invented_reports()[:most]
    members = {r.who: pool.join(r.who).member for r in {r.who: r for r in reports}.values()}
    ready = []
    for told in reports:
        body = Report.model_validate(told.body)
        ready.append(new_report(place, members[told.who], told.id, told.body, body, START))
    place.store.put_reports(ready, START)
    for told in reports:
        for seen in told.followups:
            later = Followup.model_validate(seen.body)
            follow_up(place, members[told.who], told.id, seen.id, seen.body, later, START)
    place.learned.fit_if_due(START, at_once=True)


def file_more(
    pool: Pool, bodies: list[tuple[Any, dict[str, Any]]], name: str = "alder"
) -> None:
    """File reports, each ``(id, body)``, as a member does."""
    member = pool.members[name].member
    for report_id, body in bodies:
        report = Report.model_validate(body)
        file_report(pool.service.place, member, report_id, body, report, START)


@contextmanager
def copied_pool(
    databases: Databases, folder: Path, catalogue: Catalogue, *, most: int = 1000
) -> Iterator[CopiedPool]:
    """Give a served pool of the co-op's first so many reports, with packed feeds."""
    folder.mkdir(parents=True, exist_ok=True)
    with running_pool(databases, catalogue) as pool:
        fill(pool, most)
        with served_with_snapshots(pool, folder) as running:
            yield running


@contextmanager
def served_with_snapshots(pool: Pool, folder: Path) -> Iterator[CopiedPool]:
    """Serve a pool that packs its feed."""
    snapshots = Snapshots(pool.service.place, folder / "snapshots")
    pool.service = replace(pool.service, snapshots=snapshots)
    pool.app = make_app(pool.service)
    try:
        with served(pool.app) as url:
            yield CopiedPool(pool, url, snapshots, folder / "cache")
    finally:
        snapshots.stop()


def moved_to(pool: Pool, url: str, catalogue: Catalogue) -> Pool:
    """Return the same pool in another database."""
    migrate(url)
    store = PoolStore(make_engine(url))
    move(pool.store.engine, store.engine)
    place = replace(
        pool.service.place,
        store=store,
        learned=Learned(store, catalogue, engine=engine_of(catalogue)),
    )
    service = replace(pool.service, place=place)
    return Pool(service, make_app(service), dict(pool.members), pool.time)
