"""Back a pool up while it is served, and put it back.

A backup is an SQLite file that is itself a pool, whatever database it was taken of, so it can
be opened, checked and served like any other. It is made under another name, looked through,
synced and only then put in place: a name that ends without `.part` is a whole backup.
"""

import os
import shutil
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from uuid import UUID

from sqlalchemy import Engine, delete, func, select

from mendpool.core.errors import Conflict, MendpoolError
from mendpool.store.engine import (
    erase_remnants,
    make_engine,
    reading,
    rebuilding,
    snapshot_into,
    steady_reading,
    writing,
)
from mendpool.store.lines import add_lines, last_number
from mendpool.store.migrate import migrate
from mendpool.store.move import content_of, copy_into, empty_out
from mendpool.store.replaced import before_of
from mendpool.store.reports import erase
from mendpool.store.schema import schema_state
from mendpool.store.served import nobody_serving
from mendpool.store.shut_out import ShutOut, shut_out_again, shut_out_here
from mendpool.store.sound import database_findings, quickly_sound, withdrawals
from mendpool.store.tables import CHANGE, FIT, POOL, REPORT

_CANNOT_TELL = (
    "The pool there can't be read, so nobody can tell whom it shut out or forgot since this "
    "backup, or which reports were taken back: all of them would be back. Name a later backup "
    "with --since if there is one, and add --lose-newer to go on all the same."
)
_BESIDE = ("-wal", "-shm", "-journal")


@dataclass(frozen=True, slots=True)
class BackedUp:
    """What a backup holds, read from the file itself after it was made.

    Args:
        pool: the pool's id.
        last: the number of its last change.
        rows: how many of each table.
        sha256: of all they hold, whatever the order.
    """

    pool: str
    last: int
    rows: dict[str, int]
    sha256: str


@dataclass(frozen=True, slots=True)
class Restored:
    """What was put back, and how many reports were taken back again.

    Args:
        before_known: whether the pool that was replaced could be asked what was taken back and
            who was shut out.
        before_there: whether there was one.
    """

    backup: BackedUp
    withdrawn_again: int
    before_known: bool
    before_there: bool


@dataclass(frozen=True, slots=True)
class Newer:
    """What is known of the time after a backup from elsewhere than the pool it replaces.

    Args:
        taken_back: reports that were withdrawn.
        out: members that were shut out or forgotten.
    """

    taken_back: Sequence[UUID] = ()
    out: Sequence[ShutOut] = ()


def back_up(engine: Engine, file: Path) -> BackedUp:
    """Write a backup of the pool to `file`, replacing what is there in one step.

    Writers go on meanwhile; what was acknowledged before it began is in it.

    Raises:
        Conflict: `file` is the pool itself.
        MendpoolError: the pool is damaged, or what was written is not a whole pool.
        OSError: the file can't be written.
    """
    if engine.dialect.name == "sqlite" and _same(file, Path(str(engine.url.database))):
        raise Conflict("That is the pool itself: name another file.")
    with reading(engine) as connection:
        least = last_number(connection)
    half = file.with_name(f"{file.name}.{os.getpid()}.part")
    try:
        # Tokens' hashes and the pool's key are in it: for its owner's eyes only.
        os.close(os.open(half, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
        if engine.dialect.name == "sqlite":
            snapshot_into(engine, half)
        else:
            _copied(engine, half)
        made = look_through(half)
        if made.last < least:
            raise MendpoolError("The backup lacks changes that were there when it began.")
        _sync(half)
        half.replace(file)
        _sync(file.parent)
    finally:
        for end in ("", *_BESIDE):
            Path(f"{half}{end}").unlink(missing_ok=True)
    return made


def look_through(file: Path) -> BackedUp:
    """Open a backup, check every page and the feed, and count what it holds.

    Raises:
        MendpoolError: it is not there, damaged or no pool.
    """
    if not file.is_file():
        raise MendpoolError(f"There is no file {file}.")
    with _opened(file) as engine:
        if schema_state(engine) == "missing":
            raise MendpoolError(f"{file} is no pool.")
        if found := database_findings(engine):
            raise MendpoolError(f"{file} is no whole pool: {found[0].says}.")
        with reading(engine) as connection:
            pool = connection.execute(select(POOL.c.value).where(POOL.c.key == "pool_id"))
            content = content_of(connection)
            return BackedUp(
                str(pool.scalar()), last_number(connection), content.rows, content.sha256
            )


def restore(
    engine: Engine,
    file: Path,
    now: datetime,
    *,
    over: bool,
    lose_newer: bool = False,
    newer: Newer | None = None,
) -> Restored:
    """Put a backup in the pool's place.

    What was taken back since stays so: the withdrawals of the pool that is replaced, as far
    as it can be read, and those of `newer` are made again before anyone can read it.
    Whoever it had shut out or forgotten stays so, and every phone is signed out.

    Args:
        over: a pool that holds reports, or can't be read, may be replaced.
        lose_newer: even where it can't be read, so that nobody can tell whom it had shut out
            since, or what was taken back.

    Raises:
        Conflict: it is being served; or it is there and `over`, or `lose_newer`, is not given.
        MendpoolError: the backup is not whole, or made by a newer version.
        OSError: the disk can't take it.
    """
    newer = newer or Newer()
    look_through(file)
    with _prepared(engine, file) as ready, nobody_serving(engine):
        before = before_of(engine)
        if not over and (not before.known or _held(engine)):
            what = "holds reports" if before.known else "can't be read"
            raise Conflict(f"The pool there {what}; --over replaces it.")
        if not before.known and not lose_newer:
            raise Conflict(_CANNOT_TELL)
        taken_back = {*newer.taken_back, *(before.taken_back or ())}
        out = [*newer.out, *(before.out or ())]
        with _opened(ready) as pool:
            shut_out_again(pool, out)
            again = _withdraw_again(pool, taken_back, now)
            if any(one.forgotten for one in out):
                erase_remnants(pool)
        made = look_through(ready)
        if engine.dialect.name == "sqlite":
            _exchange(engine, ready)
        else:
            _poured(engine, ready)
    return Restored(made, again, before.known, before.there)


def newer_in(file: Path) -> Newer:
    """Return what a later backup, damaged or not, tells.

    Raises:
        MendpoolError: it can't be read.
    """
    with _opened(file) as engine:
        with reading(engine) as connection:
            taken_back = withdrawals(connection)
        return Newer(taken_back, shut_out_here(engine))


@contextmanager
def _opened(file: Path) -> Iterator[Engine]:
    engine = make_engine(f"sqlite:///{file}", journal="rollback")
    try:
        yield engine
    finally:
        engine.dispose()


def _copied(engine: Engine, half: Path) -> None:
    quickly_sound(engine)  # what a file cut short has lost would be missing without a word
    migrate(f"sqlite:///{half}")
    with (
        _opened(half) as target,
        steady_reading(engine) as giving,
        rebuilding(target) as taking,
    ):
        copy_into(giving, taking)


@contextmanager
def _prepared(engine: Engine, file: Path) -> Iterator[Path]:
    """Give a copy of the backup, of this version, where it can be put in place in one step."""
    beside = Path(str(engine.url.database)) if engine.dialect.name == "sqlite" else file
    ready = beside.with_name(f"{beside.name}.{os.getpid()}.restore")
    beside.parent.mkdir(parents=True, exist_ok=True)
    try:
        os.close(os.open(ready, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
        shutil.copyfile(file, ready)
        with _opened(ready) as pool:
            if schema_state(pool) == "ahead":
                raise MendpoolError("A newer mendpool made this backup: install that one.")
        migrate(f"sqlite:///{ready}")
        yield ready
    finally:
        for end in ("", *_BESIDE):
            Path(f"{ready}{end}").unlink(missing_ok=True)


def _held(engine: Engine) -> bool:
    if engine.dialect.name == "sqlite" and not Path(str(engine.url.database)).exists():
        return False
    if schema_state(engine) == "missing":
        return False
    with reading(engine) as connection:
        return bool(connection.execute(select(func.count()).select_from(CHANGE)).scalar_one())


def _withdraw_again(pool: Engine, wanted: set[UUID], now: datetime) -> int:
    with writing(pool) as connection:
        asked = select(REPORT).where(REPORT.c.withdrawn_at.is_(None))
        rows = [row for row in connection.execute(asked) if row.id in wanted]
        for row in sorted(rows, key=lambda found: found.seq):
            erase(connection, row, row.member_id, now)
            seq = last_number(connection) + 1
            add_lines(connection, [(seq, "withdrawal", str(row.id))], now)
        if rows:
            # What was learned from them goes too; the next start learns anew.
            connection.execute(delete(FIT))
    if rows:
        erase_remnants(pool)
    return len(rows)


def _exchange(engine: Engine, ready: Path) -> None:
    """Put a file in the database's place; a log of the old one must never meet the new."""
    engine.dispose()
    path = Path(str(engine.url.database))
    if path.exists():
        with suppress(MendpoolError):
            # Until the exchange the old pool is whole without its log, if it ever was.
            with reading(engine) as connection:
                connection.exec_driver_sql("SELECT 1")
            engine.dispose()
    _sync(ready)
    for end in _BESIDE:
        Path(f"{path}{end}").unlink(missing_ok=True)
    ready.replace(path)
    _sync(path.parent)


def _poured(engine: Engine, ready: Path) -> None:
    engine.dispose()
    migrate(engine.url.render_as_string(hide_password=False))
    with _opened(ready) as source, reading(source) as giving, rebuilding(engine) as taking:
        empty_out(taking)
        copy_into(giving, taking)


def _same(one: Path, other: Path) -> bool:
    return one.exists() and other.exists() and one.samefile(other)


def _sync(path: Path) -> None:
    descriptor = os.open(path, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
