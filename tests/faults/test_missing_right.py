"""A PostgreSQL's account that lacks a right is told so: nothing is damaged or replaced."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy.engine import make_url
from sqlalchemy.exc import ProgrammingError

from mendpool.core.diagnosis.engine import Engine
from mendpool.store.troubles import tells_of_damage

from tests.databases import PostgresDatabases
from tests.faults.kept_pool import Kept, kept_pool

FAILED = 5


class _Raised(Exception):
    """What a driver raises, with its SQLSTATE."""

    def __init__(self, sqlstate: str | None) -> None:
        self.sqlstate = sqlstate


@pytest.fixture
def kept(
    postgres_databases: PostgresDatabases,
    engine: Engine,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> Iterator[Kept]:
    with kept_pool(postgres_databases, engine, tmp_path, monkeypatch) as made:
        yield made


@pytest.fixture
def guest(kept: Kept, monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    """An account that may look at everything but the reports."""
    name = "mendpool_guest"
    kept.sql(f"CREATE ROLE {name} LOGIN")
    kept.sql(f"GRANT SELECT ON ALL TABLES IN SCHEMA public TO {name}")
    kept.sql(f"REVOKE SELECT ON report FROM {name}")
    url = make_url(kept.pool.store.engine.url).set(username=name)
    monkeypatch.setenv("MENDPOOL_DATABASE_URL", url.render_as_string(hide_password=False))
    try:
        yield url.render_as_string(hide_password=False)
    finally:
        kept.sql(f"DROP OWNED BY {name}")
        kept.sql(f"DROP ROLE {name}")


@pytest.mark.postgres
def test_it_is_told_as_a_right_and_what_to_do(kept: Kept, guest: str) -> None:
    backup = kept.folder / "backup"
    for command in (("check",), ("serve", "--port", "0"), ("backup", str(backup))):
        told = kept.run(*command, code=FAILED).output
        assert "lacks a right" in told, command
        assert "GRANT" in told
        assert "damaged" not in told
        assert "restore" not in told
    assert not backup.exists()


@pytest.mark.postgres
def test_no_pool_is_replaced_for_want_of_a_right(
    kept: Kept, guest: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    owner = kept.pool.store.engine.url.render_as_string(hide_password=False)
    monkeypatch.setenv("MENDPOOL_DATABASE_URL", owner)
    backup = kept.back_up()
    kept.let_go()
    kept.sql("REVOKE SELECT ON change, member FROM mendpool_guest")
    kept.let_go()
    monkeypatch.setenv("MENDPOOL_DATABASE_URL", guest)
    told = kept.run("restore", str(backup), "--over", code=FAILED)
    assert "lacks a right" in told.output


@pytest.mark.parametrize(
    ("sqlstate", "told"),
    [("XX000", True), ("58030", True), ("22021", True), (None, True), ("42601", False)],
)
def test_only_what_may_come_of_the_files_is_called_damage(
    sqlstate: str | None, *, told: bool
) -> None:
    """Classes of PostgreSQL's documentation, appendix A: 42 is a fault of what was asked."""
    assert tells_of_damage(ProgrammingError("SELECT", {}, _Raised(sqlstate))) is told
