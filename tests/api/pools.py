"""A pool to test against: the whole application over one database, with its own time."""

from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import UUID

from sqlalchemy import event
from starlette.testclient import TestClient
from starlette.types import ASGIApp

from mendpool.api.app import make_app
from mendpool.api.context import Service, new_limiter
from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.store.pool_store import PoolStore
from mendpool.store.values import Role
from mendpool.usecases.learned import Learned
from mendpool.usecases.members import NewMember, add_member
from mendpool.usecases.workplace import Workplace

from tests.databases import Databases
from tests.engines import engine_of, scrubber_of
from tests.factories import make_id

START = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)
KEY = bytes(range(32))
MEMBERS: tuple[tuple[str, Role], ...] = (
    ("steward", "steward"),
    ("alder", "member"),
    ("birch", "member"),
)


@dataclass
class Pool:
    """A running application, who its members are, and the time it believes in."""

    service: Service
    app: ASGIApp
    members: dict[str, NewMember]
    time: list[datetime]
    _clients: dict[str, TestClient] = field(default_factory=dict)
    _open: ExitStack = field(default_factory=ExitStack)

    @property
    def store(self) -> PoolStore:
        return self.service.place.store

    def headers(self, name: str) -> dict[str, str]:
        return {"Authorization": f"Bearer {self.members[name].token}"}

    def join(self, name: str, role: Role = "member") -> NewMember:
        made = add_member(self.store, name, role, self.time[0])
        self.members[name] = made
        return made

    def client(self, name: str = "") -> TestClient:
        """Return the client of a member, or of someone without a token."""
        if name not in self._clients:
            headers = self.headers(name) if name else {}
            made = TestClient(self.app, raise_server_exceptions=False, headers=headers)
            self._clients[name] = self._open.enter_context(made)
        return self._clients[name]

    def put(self, body: dict[str, Any], name: str = "alder", at: UUID | None = None) -> str:
        """File a report and return its id."""
        report_id = at or make_id()
        answer = self.client(name).put(f"/v1/reports/{report_id}", json=body)
        assert answer.status_code == 201, answer.text
        return str(report_id)

    def wait(self, **period: float) -> None:
        self.time[0] += timedelta(**period)

    def close(self) -> None:
        self._open.close()
        self.store.engine.dispose()


@contextmanager
def running_pool(
    databases: Databases,
    catalogue: Catalogue,
    *,
    requests_a_minute: int = 100_000,
    reports_a_day: int = 100_000,
    photos_a_day: int = 100_000,
) -> Iterator[Pool]:
    """Give an application over a database of its own, with a steward and two members."""
    with ExitStack() as open_:
        store = PoolStore(databases.open(open_.enter_context(databases.migrated())))
        store.init_pool(make_id(), KEY, START)
        time = [START]
        members = {name: add_member(store, name, role, START) for name, role in MEMBERS}
        learned = Learned(store, catalogue, engine=engine_of(catalogue))
        place = Workplace(store, learned, catalogue, KEY, scrubber_of(catalogue))
        service = Service(
            place,
            lambda: time[0],
            make_id,
            requests_a_minute,
            reports_a_day,
            new_limiter(),
            photos_a_day=photos_a_day,
        )
        pool = Pool(service, make_app(service), members, time)
        open_.callback(pool.close)
        yield pool


@contextmanager
def statements(store: PoolStore) -> Iterator[list[str]]:
    """Collect every SQL statement that is sent in the block, those that begin and end too."""
    seen: list[str] = []

    def note(_c: object, _u: object, statement: str, *_rest: object) -> None:
        seen.append(statement)

    event.listen(store.engine, "before_cursor_execute", note)
    try:
        yield seen
    finally:
        event.remove(store.engine, "before_cursor_execute", note)


def rows(
    store: PoolStore, tables: Sequence[str] = ("report", "followup", "change")
) -> list[int]:
    """Count the rows of some tables."""
    with store.engine.connect() as connection:
        return [
            int(connection.exec_driver_sql(f"SELECT count(*) FROM {table}").scalar_one())
            for table in tables
        ]
