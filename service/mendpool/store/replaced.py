"""What only the pool to be replaced knows: what was taken back, and who was shut out."""

from dataclasses import dataclass
from pathlib import Path
from uuid import UUID

from sqlalchemy import Engine, Table
from sqlalchemy.exc import DBAPIError

from mendpool.core.errors import MendpoolError, TemporarilyImpossible
from mendpool.store.engine import reading, steady_reading
from mendpool.store.schema import schema_state
from mendpool.store.shut_out import ShutOut, shut_out_here
from mendpool.store.sound import is_cut, withdrawals
from mendpool.store.tables import CHANGE, MEMBER

_LOOKS = {"change": "PRAGMA quick_check(change)", "member": "PRAGMA quick_check(member)"}
"""By table, written out: no statement is made of text."""


@dataclass(frozen=True, slots=True)
class Before:
    """What the pool in place could tell.

    Args:
        there: there is one, readable or not.
        taken_back: the reports withdrawn from it; None where it can't be read.
        out: whom it shut out or forgot; None where it can't be read.
    """

    there: bool
    taken_back: list[UUID] | None
    out: list[ShutOut] | None

    @property
    def known(self) -> bool:
        """It is there, and could tell both, or there is none to tell."""
        return self.taken_back is not None and self.out is not None


def before_of(engine: Engine) -> Before:
    """Ask the pool in place, as far as its files are whole.

    A table with missing pages would have fewer rows and no error, so they are looked for first.

    Raises:
        TemporarilyImpossible: it can't be asked now, or not by this account.
    """
    if engine.dialect.name == "sqlite":
        path = Path(str(engine.url.database))
        if not path.exists() or not path.stat().st_size:
            return Before(there=False, taken_back=[], out=[])
    try:
        if schema_state(engine) == "missing":
            return Before(there=False, taken_back=[], out=[])
        return Before(there=True, taken_back=_taken_back(engine), out=_shut_out(engine))
    except TemporarilyImpossible:
        raise
    except (MendpoolError, DBAPIError):
        return Before(there=True, taken_back=None, out=None)
    finally:
        engine.dispose()


def _taken_back(engine: Engine) -> list[UUID] | None:
    try:
        _look_through(engine, CHANGE)
        with reading(engine) as connection:
            return withdrawals(connection)
    except TemporarilyImpossible:
        raise
    except (MendpoolError, DBAPIError, ValueError):
        return None


def _shut_out(engine: Engine) -> list[ShutOut] | None:
    try:
        _look_through(engine, MEMBER)
        return shut_out_here(engine)
    except TemporarilyImpossible:
        raise
    except (MendpoolError, DBAPIError, ValueError):
        return None


def _look_through(engine: Engine, table: Table) -> None:
    """Make sure that no row of a table is missing.

    Raises:
        MendpoolError: some are, or can't be read.
    """
    if engine.dialect.name == "sqlite":
        with reading(engine) as connection:
            says = connection.exec_driver_sql(_LOOKS[table.name]).scalar()
        if says != "ok":
            raise MendpoolError(f"table {table.name} is damaged")
        return
    with steady_reading(engine) as connection:
        if is_cut(connection, table):
            raise MendpoolError(f"rows of table {table.name} are missing")
