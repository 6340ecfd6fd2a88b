"""A private PostgreSQL server as an operator would set it up, and the peers that live in it."""

import os
import pwd
import shutil
import socket
import subprocess
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from time import perf_counter
from typing import NamedTuple

import psycopg
from psycopg import sql
from sqlalchemy.engine import URL

from tests.bench.scale.corpus import Corpus
from tests.bench.scale.drawn import Asked
from tests.bench.scale.sides import TOP, Missing, Way, timed

_PROGRAMS = Path("/usr/lib/postgresql")
_WAIT_S = 60
_LARGE = 300_000
_ALIKE = 0.25
_NEAREST_UPTO = 150_000


class Server(NamedTuple):
    """A running server: where it listens, and its first process."""

    port: int
    process: int

    def url(self, database: str) -> str:
        """Return the address of a database as the settings take it."""
        made = URL.create(
            "postgresql+psycopg", "mendpool", None, "127.0.0.1", self.port, database
        )
        return made.render_as_string(hide_password=False)

    def connect(self, database: str) -> "psycopg.Connection[tuple[int, ...]]":
        """Connect to a database that is there."""
        return psycopg.connect(
            host="127.0.0.1", port=self.port, user="mendpool", dbname=database, autocommit=True
        )

    def make(self, database: str) -> None:
        """Make a database anew."""
        with self.connect("postgres") as connection:
            name = sql.Identifier(database)
            connection.execute(sql.SQL("DROP DATABASE IF EXISTS {} WITH (FORCE)").format(name))
            connection.execute(sql.SQL("CREATE DATABASE {}").format(name))

    def memory(self) -> float:
        """Return what all its processes hold in MB, shared pages counted once."""
        total = 0
        children = Path(f"/proc/{self.process}/task/{self.process}/children").read_text()
        for process in [self.process, *children.split()]:
            rollup = Path(f"/proc/{process}/smaps_rollup")
            try:
                lines = rollup.read_text(encoding="ascii").splitlines()
            except OSError:
                continue  # it ended meanwhile, or is not ours to look at
            total += next(int(line.split()[1]) for line in lines if line.startswith("Pss:"))
        return total * 1024 / 1e6


@contextmanager
def server(reports: int, work: Path | None = None) -> Iterator[Server]:
    """Run a server of this machine's programs until the block ends.

    Raises:
        Missing: there are no programs, or root has nobody to lend them to.
    """
    found = [path.parent for path in _PROGRAMS.glob("*/bin/initdb")]
    if not found:
        raise Missing("no PostgreSQL programs on this machine")
    programs = max(found, key=lambda path: float(path.parent.name))
    account = _account()
    # Another account must be able to get there, so not below a folder of our own.
    home = Path(tempfile.mkdtemp(prefix="pg-", dir=work if account is None else None))
    if account is not None:
        os.chown(home, account.pw_uid, account.pw_gid)
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = int(probe.getsockname()[1])
    settings = {
        "listen_addresses": "127.0.0.1",
        "port": port,
        "unix_socket_directories": home,
        "shared_buffers": "2GB" if reports > _LARGE else "512MB",
        "effective_cache_size": "4GB",
        "maintenance_work_mem": "512MB",
        "work_mem": "64MB",
        "jit": "off",
        "fsync": "on",
        "max_wal_size": "4GB",
        "wal_compression": "on",
        "random_page_cost": "1.1",
    }
    options = " ".join(f"-c {name}={value}" for name, value in settings.items())
    control: list[str | Path] = [programs / "pg_ctl", "-D", home / "data", "-w", "-t", "60"]
    make: list[str | Path] = [programs / "initdb", "-D", home / "data", "-A", "trust", "-E"]
    try:
        _run(account, [*make, "UTF8", "-U", "mendpool", "--locale=C.UTF-8"])
        _run(account, [*control, "-l", home / "log", "-o", options, "start"])
        first = int((home / "data" / "postmaster.pid").read_text().split()[0])
        try:
            yield Server(port, first)
        finally:
            _run(account, [*control, "-m", "fast", "stop"])
    finally:
        shutil.rmtree(home, ignore_errors=True)


class _InDatabase:
    """A peer that is a table with one index; its process only asks."""

    database = ""
    index = ""

    def __init__(self, running: Server) -> None:
        self._server = running

    def build(self, corpus: Corpus) -> float:
        """Fill the table, then make the index."""
        self._count = corpus.count
        texts = corpus.texts()
        self._server.make(self.database)
        self._connection = connection = self._server.connect(self.database)
        # Prepared, the words asked for would be made anew for every row they are held to.
        connection.prepare_threshold = None
        connection.execute("CREATE EXTENSION IF NOT EXISTS pg_trgm")
        started = perf_counter()
        connection.execute("CREATE TABLE held (number int PRIMARY KEY, text text NOT NULL)")
        with connection.cursor().copy("COPY held FROM STDIN") as copy:
            for row in enumerate(texts, 1):
                copy.write_row(row)
        for statement in self.index.split(";"):
            connection.execute(statement)  # type: ignore[call-overload]
        connection.execute("VACUUM ANALYZE held")
        took = perf_counter() - started
        connection.execute(f"SET pg_trgm.similarity_threshold = {_ALIKE}")
        return took

    def forget(self) -> None:
        """Do nothing: a server keeps its pages, as it would in use."""

    def disk(self) -> float:
        """Return the table with its index."""
        row = self._connection.execute("SELECT pg_total_relation_size('held')").fetchone()
        return (row[0] if row else 0) / 1e6

    def memory(self) -> float:
        """Return the whole server's, which all that is in it share."""
        return self._server.memory()

    def close(self) -> None:
        """Let go."""
        self._connection.close()

    def _numbers(self, statement: str, text: str) -> list[int]:
        found = self._connection.execute(
            statement,  # type: ignore[call-overload]
            {"text": text},
        )
        return [int(row[0]) for row in found]


class TextSearch(_InDatabase):
    """tsvector of English, GIN, any of the words, ts_rank."""

    database = "peer_words"
    index = (
        "ALTER TABLE held ADD COLUMN words tsvector"
        " GENERATED ALWAYS AS (to_tsvector('english', text)) STORED;"
        "CREATE INDEX ON held USING gin (words)"
    )

    def ways(self) -> Mapping[str, Way]:
        """Return the one way."""
        return {"PostgreSQL tsvector": timed(self._ask)}

    def _ask(self, question: Asked) -> list[int]:
        return self._numbers(
            "SELECT number FROM held, (SELECT replace(plainto_tsquery('english', %(text)s)"
            "::text, '&', '|')::tsquery AS any_word) AS asked WHERE words @@ any_word"
            f" ORDER BY ts_rank(words, any_word) DESC, number LIMIT {TOP}",
            question.text,
        )


class Trigrams(_InDatabase):
    """pg_trgm: GIN and `%` at 0.25, sorted by similarity."""

    database = "peer_trigrams"
    index = "CREATE INDEX ON held USING gin (text gin_trgm_ops)"

    def ways(self) -> Mapping[str, Way]:
        """Return the one way."""
        return {"PostgreSQL pg_trgm GIN": timed(self._ask)}

    def _ask(self, question: Asked) -> list[int]:
        return self._numbers(
            "SELECT number FROM held WHERE text %% %(text)s"
            f" ORDER BY similarity(text, %(text)s) DESC, number LIMIT {TOP}",
            question.text,
        )


class NearestTrigrams(_InDatabase):
    """pg_trgm: GiST, nearest first; its index takes too long to make in the largest size."""

    database = "peer_nearest"
    index = "CREATE INDEX ON held USING gist (text gist_trgm_ops)"

    def build(self, corpus: Corpus) -> float:
        """Fill and index, unless there are too many."""
        if corpus.count > _NEAREST_UPTO:
            raise Missing(f"GiST is not built beyond {_NEAREST_UPTO:,} reports")
        return super().build(corpus)

    def ways(self) -> Mapping[str, Way]:
        """Return the one way."""
        return {"PostgreSQL pg_trgm GiST": timed(self._ask)}

    def _ask(self, question: Asked) -> list[int]:
        return self._numbers(
            f"SELECT number FROM held ORDER BY text <-> %(text)s LIMIT {TOP}", question.text
        )


def _account() -> pwd.struct_passwd | None:
    """The programs refuse to run as root, who lends them an account without rights."""
    if os.geteuid() != 0:
        return None
    try:
        return pwd.getpwnam("postgres")
    except KeyError:
        raise Missing("root can't run PostgreSQL and there is no account `postgres`") from None


def _run(account: pwd.struct_passwd | None, words: list[str | Path]) -> None:
    done = subprocess.run(
        words,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        cwd="/",
        env={"PATH": "/usr/bin:/bin", "LC_ALL": "C.UTF-8"},
        timeout=_WAIT_S * 2,
        check=False,
        user=None if account is None else account.pw_uid,
        group=None if account is None else account.pw_gid,
        extra_groups=None if account is None else [],
    )
    if done.returncode:
        raise RuntimeError(f"{words[0]} ended with {done.returncode}")
