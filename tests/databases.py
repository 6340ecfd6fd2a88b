"""Where every test that opens a pool gets its database from, of whatever kind.

A test that takes the fixture `databases`, or anything made of it, runs once for each kind:
SQLite with its log in the default run, PostgreSQL under the mark `postgres`, SQLite with
its rollback journal under `slow` (in tests/store by default too).
"""

import shutil
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Literal, Protocol

import pytest
from sqlalchemy import Engine
from sqlalchemy.engine import make_url

from mendpool.store.engine import Journal, make_engine, wal_is_safe
from mendpool.store.migrate import migrate

from tests.postgres_server import PostgresServer

Kind = Literal["wal", "rollback", "postgres"]


class Databases(Protocol):
    """Makes databases of one kind; what is made is gone at the end of the block."""

    kind: Kind

    @contextmanager
    def empty(self) -> Iterator[str]:
        """Give the address of a database without tables."""

    @contextmanager
    def migrated(self) -> Iterator[str]:
        """Give the address of a database with every table and no row."""

    def open(self, url: str) -> Engine:
        """Return an engine on a database of this kind."""


class SqliteFiles:
    """Files in a folder; tables are made once and the file copied from then on."""

    def __init__(self, folder: Path, journal: Journal, template: Path | None = None) -> None:
        self.kind: Kind = journal
        self._journal: Journal = journal
        self._folder = folder
        self._template = template or folder / "template.db"

    def in_mode(self, journal: Journal) -> "SqliteFiles":
        """Return a maker of files with this journal, with the tables of this one."""
        if journal == "wal" and not wal_is_safe():
            pytest.skip("this SQLite library is older than 3.51.3: no write-ahead log")
        return SqliteFiles(self._folder, journal, self._template)

    @contextmanager
    def empty(self) -> Iterator[str]:
        folder = self._folder / uuid.uuid4().hex
        folder.mkdir()
        try:
            yield f"sqlite:///{folder / 'pool.db'}"
        finally:
            shutil.rmtree(folder, ignore_errors=True)

    @contextmanager
    def migrated(self) -> Iterator[str]:
        if not self._template.exists():
            migrate(f"sqlite:///{self._template}")
        with self.empty() as url:
            shutil.copy(self._template, str(make_url(url).database))
            yield url

    def open(self, url: str) -> Engine:
        return make_engine(url, journal=self._journal)


class PostgresDatabases:
    """Databases of one server; tables are made once and the database copied from then on."""

    kind: Kind = "postgres"

    def __init__(self, server: PostgresServer) -> None:
        self._server = server
        self._template: str | None = None

    @contextmanager
    def empty(self) -> Iterator[str]:
        yield from self._one(None)

    @contextmanager
    def migrated(self) -> Iterator[str]:
        if self._template is None:
            self._template = self._server.make_database()
            migrate(self._template)
        yield from self._one(make_url(self._template).database)

    def open(self, url: str) -> Engine:
        return make_engine(url)

    def close(self) -> None:
        if self._template is not None:
            self._server.drop_database(self._template)

    def _one(self, template: str | None) -> Iterator[str]:
        url = self._server.make_database(template)
        try:
            yield url
        finally:
            self._server.drop_database(url)


def of_kind(request: pytest.FixtureRequest, kind: Kind) -> Databases:
    """Return the maker of a kind; the server is started by the first who wants it."""
    if kind == "postgres":
        served: PostgresDatabases = request.getfixturevalue("postgres_databases")
        return served
    files: SqliteFiles = request.getfixturevalue("sqlite_files")
    return files.in_mode(kind)
