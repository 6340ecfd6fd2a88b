"""A PostgreSQL server that a test may stop, start again and copy; never the one that is given.

It syncs nothing: what is asked of it is to outlive the death of its processes, not of the
machine, whose memory of the files stays.
"""

import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from sqlalchemy.engine import URL

from tests.postgres_server import (
    PROGRAMS,
    WAIT_S,
    PostgresServer,
    _account,
    _as,
    _free_port,
    _without,
    programs,
)


@dataclass
class OwnServer:
    """A server of this test alone, in a folder of its own."""

    home: Path
    programs: Path
    port: int = field(default_factory=_free_port)

    @property
    def data(self) -> Path:
        return self.home / "data"

    @property
    def server(self) -> PostgresServer:
        return PostgresServer(self.address("postgres"))

    def address(self, database: str) -> URL:
        """Return the address of a database here."""
        return URL.create(
            "postgresql+psycopg",
            username="mendpool",
            host="127.0.0.1",
            port=self.port,
            database=database,
        )

    def start(self) -> None:
        options = f"-c listen_addresses=127.0.0.1 -p {self.port} -k {self.home} -c fsync=off"
        self._control("-l", str(self.home / "log"), "-o", options, "start")

    def stop(self, mode: str = "immediate") -> None:
        """Stop it; `immediate` is as good as a kill."""
        self._control("-m", mode, "stop")

    def restart(self, mode: str = "immediate") -> None:
        self.stop(mode)
        self.start()

    def _control(self, *words: str) -> None:
        control = self.programs / "pg_ctl"
        _as(_account(), [control, "-D", self.data, "-w", "-t", str(WAIT_S), *words])


@contextmanager
def own_server(*, sums: bool = False) -> Iterator[OwnServer]:
    """Give a running server of one's own, or skip the test with the reason.

    Args:
        sums: every page carries a checksum, as in `docker-compose.yml`.
    """
    with _place() as made:
        make = [made.programs / "initdb", "-D", made.data, "-A", "trust", "-U", "mendpool"]
        make += ["--data-checksums"] if sums else []
        _as(_account(), [*make, "-N", "-E", "UTF8"])
        with _running(made):
            yield made


@contextmanager
def replica_of(primary: OwnServer) -> Iterator[OwnServer]:
    """Give a server that follows another, as its documentation has it (section 27.2)."""
    with _place() as made:
        source = ["-h", "127.0.0.1", "-p", str(primary.port), "-U", "mendpool"]
        copy = [made.programs / "pg_basebackup", "-D", made.data, *source]
        _as(_account(), [*copy, "-R", "-X", "stream", "-c", "fast", "-N"])
        with _running(made):
            yield made


@contextmanager
def _place() -> Iterator[OwnServer]:
    folder = programs()
    if folder is None:
        _without(f"no PostgreSQL: {PROGRAMS}/*/bin is empty")
    home = Path(tempfile.mkdtemp(prefix="mendpool-pg-", dir="/tmp"))
    try:
        account = _account()
        if account is not None:
            shutil.chown(home, account.pw_uid, account.pw_gid)
        yield OwnServer(home, folder)
    finally:
        shutil.rmtree(home, ignore_errors=True)


@contextmanager
def _running(made: OwnServer) -> Iterator[None]:
    made.start()
    try:
        yield
    finally:
        if (made.data / "postmaster.pid").exists():
            made.stop()
