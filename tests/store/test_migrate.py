"""The migrations make the tables the code was written for, on either database, once."""

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest
from alembic import command
from alembic.config import Config
from alembic.script import ScriptDirectory
from sqlalchemy import Engine, inspect, select
from sqlalchemy.exc import DataError, IntegrityError

from mendpool._places import place_of
from mendpool.core.errors import MendpoolError
from mendpool.store import migrate as migrating
from mendpool.store.engine import make_engine, reading, rebuilding, writing
from mendpool.store.migrate import migrate
from mendpool.store.pool_store import PoolStore
from mendpool.store.schema import HEAD, REVISIONS, schema_state
from mendpool.store.tables import REPORT, StoreTable

from tests.databases import Databases, SqliteFiles
from tests.store.samples import NOW, POOL_ID, POOL_KEY, add_member, an_id, follow, put

NewDatabase = Callable[[], str]
_ALL = "SELECT * FROM "


@pytest.fixture
def new_database(databases: Databases) -> Iterator[NewDatabase]:
    """Give a maker of empty databases; it returns their addresses."""
    with ExitStack() as made:
        yield lambda: made.enter_context(databases.empty())


class TestMigrate:
    def test_an_empty_database_becomes_current_and_stays_so(
        self, new_database: NewDatabase
    ) -> None:
        url = new_database()
        engine = make_engine(url)
        assert schema_state(engine) == "missing"
        migrate(url)
        assert schema_state(engine) == "current"
        store = PoolStore(engine)
        store.init_pool(POOL_ID, POOL_KEY, NOW)
        put(store, add_member(store, "ana"))
        migrate(url)
        assert store.report_count() == 1
        engine.dispose()

    def test_two_at_once_are_one(self, new_database: NewDatabase) -> None:
        url = new_database()
        words = "import sys; from mendpool.store.migrate import migrate; migrate(sys.argv[1])"
        both = [
            subprocess.Popen(
                [sys.executable, "-c", words, url], stderr=subprocess.PIPE, env=_env()
            )
            for _ in range(2)
        ]
        said = [process.communicate(timeout=60)[1].decode() for process in both]
        assert [process.returncode for process in both] == [0, 0], said
        engine = make_engine(url)
        assert schema_state(engine) == "current"
        engine.dispose()

    def test_the_migrated_tables_are_the_codes_tables(self, new_database: NewDatabase) -> None:
        migrated, written = make_engine(new_database()), make_engine(new_database())
        migrate(migrated.url.render_as_string(hide_password=False))
        with rebuilding(written) as connection:
            StoreTable.metadata.create_all(connection)
        seen = _shape(migrated)
        assert len(seen) == len(StoreTable.metadata.tables)
        assert seen == _shape(written)
        with rebuilding(migrated) as connection:  # raises when a revision is lacking
            config = _config(place_of("migrations"))
            config.attributes["connection"] = connection
            command.check(config)
        migrated.dispose()
        written.dispose()

    def test_a_migration_that_fails_half_way_changes_nothing(
        self, new_database: NewDatabase, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        url = new_database()
        migrate(url)
        engine = make_engine(url)
        before = _shape(engine)
        monkeypatch.setattr(migrating, "place_of", lambda _: _with_a_bad_revision(tmp_path))
        with pytest.raises(RuntimeError, match="half way"):
            migrate(url)
        assert _shape(engine) == before
        assert schema_state(engine) == "current"
        engine.dispose()

    def test_replacing_a_table_leaves_its_children_and_their_keys(
        self, new_database: NewDatabase
    ) -> None:
        url = new_database()
        migrate(url)
        store = PoolStore(make_engine(url))
        store.init_pool(POOL_ID, POOL_KEY, NOW)
        ana = add_member(store, "ana")
        put(store, ana)
        if store.engine.dialect.name == "sqlite":
            # What a batch does: sqlite.org/lang_altertable.html, section 7.
            with rebuilding(store.engine) as connection:
                connection.exec_driver_sql("CREATE TABLE new_report AS SELECT * FROM report")
                connection.exec_driver_sql("DROP TABLE report")
                connection.exec_driver_sql("CREATE TABLE report AS SELECT * FROM new_report")
                connection.exec_driver_sql("CREATE UNIQUE INDEX a ON report (seq)")
                connection.exec_driver_sql("CREATE UNIQUE INDEX b ON report (id)")
            with reading(store.engine) as connection:
                count = "SELECT count(*) FROM report_component"
                assert connection.exec_driver_sql(count).scalar() == 2
                assert connection.exec_driver_sql("PRAGMA foreign_keys").scalar() == 1
            with (
                pytest.raises(MendpoolError, match="orphan"),
                rebuilding(store.engine) as connection,
            ):
                connection.exec_driver_sql("DELETE FROM report")
        assert store.report_count() == 1
        store.engine.dispose()

    def test_every_revision_goes_down_and_up_again(self, new_database: NewDatabase) -> None:
        engine = make_engine(new_database())
        for step in ("upgrade", "downgrade", "upgrade"):
            with rebuilding(engine) as connection:
                config = _config(place_of("migrations"))
                config.attributes["connection"] = connection
                getattr(command, step)(config, "head" if step == "upgrade" else "base")
        assert schema_state(engine) == "current"
        engine.dispose()

    @pytest.mark.parametrize("older", REVISIONS[:-1])
    def test_a_pool_of_an_older_version_comes_up_with_all_it_holds(
        self, new_database: NewDatabase, older: str
    ) -> None:
        url = new_database()
        migrate(url)
        store = PoolStore(make_engine(url))
        store.init_pool(POOL_ID, POOL_KEY, NOW)
        ana = add_member(store, "ana")
        for number in range(20):
            put(store, ana, number, derived_version=f"v{number % 3}")
        follow(store, ana, 2)
        store.withdraw(an_id(3), ana.id, steward=True, now=NOW)
        store.save_fit(22, "c1", b"learned", NOW)
        newest = _shape(store.engine)
        with rebuilding(store.engine) as connection:
            config = _config(place_of("migrations"))
            config.attributes["connection"] = connection
            command.downgrade(config, older)
        assert schema_state(store.engine) == "behind"
        assert _shape(store.engine) != newest
        before = _rows(store.engine)
        assert len(before["report"]) == 20
        migrate(url)
        after = _rows(store.engine)
        assert {name: after[name] for name in before} == before
        assert [after[name] for name in after if name not in before and after[name]] == []
        assert _shape(store.engine) == newest
        assert [case.seq for case in store.stale_cases("v0", 0, 3)] == [2, 3, 5]
        store.engine.dispose()


class TestSchemaState:
    def test_the_codes_list_of_revisions_is_the_migrations(self) -> None:
        script = ScriptDirectory.from_config(_config(place_of("migrations")))
        newest_first = [revision.revision for revision in script.walk_revisions()]
        assert tuple(reversed(newest_first)) == REVISIONS
        assert script.get_current_head() == HEAD

    @pytest.mark.parametrize(
        ("found", "state"), [("0000", "behind"), ("9999", "ahead"), (None, "missing")]
    )
    def test_an_older_a_newer_and_no_revision_are_told_apart(
        self,
        sqlite_files: SqliteFiles,
        monkeypatch: pytest.MonkeyPatch,
        found: str | None,
        state: str,
    ) -> None:
        monkeypatch.setattr("mendpool.store.schema.REVISIONS", ("0000", *REVISIONS))
        with sqlite_files.migrated() as url:
            engine = sqlite_files.open(url)
            with rebuilding(engine) as connection:
                connection.exec_driver_sql("DELETE FROM alembic_version")
                if found is not None:
                    add = "INSERT INTO alembic_version VALUES (?)"
                    connection.exec_driver_sql(add, (found,))
            assert schema_state(engine) == state
            engine.dispose()

    def test_asking_does_not_need_alembic(self) -> None:
        words = (
            "import sys, mendpool.store.schema, mendpool.store.pool_store;"
            "print('alembic' in sys.modules)"
        )
        said = subprocess.run(
            [sys.executable, "-c", words],
            capture_output=True,
            check=True,
            text=True,
            env=_env(),
        )
        assert said.stdout.strip() == "False"


class TestChecks:
    """The database refuses what a table class of SQLModel would let through."""

    @pytest.mark.parametrize(
        ("column", "value"),
        [
            ("body", None),
            ("body", "x"),
            ("body", "x" * 1_048_577),
            ("sameness", None),
            ("happened", "2026-1"),
            ("fuel", "x" * 61),
            ("outcome", ""),
            ("withdrawn_at", NOW),
            ("member_id", 999),
        ],
    )
    def test_a_report_that_is_no_report_is_refused(
        self, store: PoolStore, column: str, value: object
    ) -> None:
        put(store, add_member(store, "ana"))
        with (
            pytest.raises((IntegrityError, DataError)),
            writing(store.engine) as connection,
        ):
            connection.execute(REPORT.update().values({column: value}))
        with reading(store.engine) as connection:
            assert connection.execute(select(REPORT.c.body)).scalar() == '{"said": "report 1"}'


class TestPlaces:
    def test_the_migrations_and_the_page_are_found_in_a_checkout(self) -> None:
        assert (place_of("migrations") / "env.py").is_file()
        assert place_of("phone").name == "phone"

    def test_the_packages_own_folder_comes_first(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        package = tmp_path / "service" / "mendpool"
        monkeypatch.setattr("mendpool._places._PACKAGE", package)
        (tmp_path / "clients" / "phone").mkdir(parents=True)
        assert place_of("phone") == tmp_path / "clients" / "phone"
        (package / "phone").mkdir(parents=True)
        assert place_of("phone") == package / "phone"

    def test_a_folder_that_is_nowhere_is_named(self) -> None:
        with pytest.raises(MendpoolError, match="nowhere"):
            place_of("nowhere")


def _env() -> dict[str, str]:
    """Let a program of its own find what this one found, installed or not."""
    return {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}


def _config(folder: Path) -> Config:
    config = Config()
    config.set_main_option("script_location", str(folder))
    config.set_main_option("path_separator", "os")
    return config


def _shape(engine: Engine) -> dict[str, object]:
    """Return what the database says of every table but Alembic's own, rules included."""
    look = inspect(engine)
    return {
        table: [
            sorted(map(_words, look.get_columns(table))),
            sorted(map(_words, look.get_check_constraints(table))),
            sorted(map(_words, look.get_foreign_keys(table))),
            sorted(map(_words, look.get_unique_constraints(table))),
            sorted(map(_words, look.get_indexes(table))),
            look.get_pk_constraint(table),
            look.get_table_options(table),
        ]
        for table in look.get_table_names()
        if table != "alembic_version"
    }


def _rows(engine: Engine) -> dict[str, list[str]]:
    """Return every row of every table but Alembic's own, in no order."""
    seen = inspect(engine)
    names = [name for name in seen.get_table_names() if name != "alembic_version"]
    with reading(engine) as connection:
        return {
            name: sorted(map(_words, map(list, connection.exec_driver_sql(_ALL + name))))
            for name in names
        }


def _words(seen: object) -> str:
    return json.dumps(seen, default=str, sort_keys=True)


def _with_a_bad_revision(folder: Path) -> Path:
    copy = folder / "migrations"
    shutil.copytree(place_of("migrations"), copy)
    (copy / "versions" / "bad.py").write_text(
        "from alembic import op\n"
        "import sqlalchemy as sa\n"
        f"revision, down_revision = 'bad', '{HEAD}'\n"
        "def upgrade():\n"
        "    op.create_table('half', sa.Column('id', sa.Integer()))\n"
        "    op.drop_table('report_symptom')\n"
        "    raise RuntimeError('half way')\n"
    )
    return copy
