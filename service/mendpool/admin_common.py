"""What the operator's commands share: errors as sentences, the clock, the open pool."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from typing import Annotated, NoReturn

import typer
from pydantic import ValidationError

from mendpool.core.errors import Conflict, MendpoolError, RefusedInput
from mendpool.settings import Settings
from mendpool.store.engine import make_engine
from mendpool.store.pool_store import PoolStore
from mendpool.store.schema import schema_state
from mendpool.store.values import FOREIGN_PSEUDONYM, Member

Json = Annotated[bool, typer.Option("--json", help="Print one JSON object.")]
FAULT, USAGE, REFUSED, FAILED, INTERRUPTED = 1, 2, 3, 5, 130


@contextmanager
def plainly() -> Iterator[None]:
    """Turn what goes wrong into a sentence and an exit code."""
    try:
        yield
    except ValidationError as error:
        fault = error.errors()[0]
        name = "MENDPOOL_" + "_".join(str(p) for p in fault["loc"]).upper()
        stop(f"{name}: {fault['msg']}", USAGE)
    except RefusedInput as error:
        told = "; ".join(fault.says for fault in error.errors)
        stop(f"{told[:1].upper()}{told[1:]}.", REFUSED)
    except Conflict as error:
        stop(str(error), REFUSED)
    except MendpoolError as error:
        stop(str(error) or "that can't be done", FAILED)


def stop(says: str, code: int) -> NoReturn:
    """Say why it ends, and end with an exit code."""
    typer.echo(says, err=True)
    raise typer.Exit(code)


def now() -> datetime:
    """Return the time, aware, in UTC."""
    return datetime.now(UTC)


def open_store(settings: Settings) -> PoolStore:
    """Open the pool; it must be there and current.

    Raises:
        MendpoolError: it is not, with what to run.
    """
    engine = make_engine(settings.database_url)
    state = schema_state(engine)
    if state != "current":
        todo = {
            "missing": "run `mendpool pool init` first",
            "behind": "run `mendpool pool migrate`",
            "ahead": "it was made by a newer mendpool: install that one",
        }[state]
        raise MendpoolError(f"The pool's tables are {state}: {todo}.")
    return PoolStore(engine)


@contextmanager
def opened_pool(settings: Settings) -> Iterator[PoolStore]:
    """Give the open pool, and let go of the database at the end of the block."""
    store = open_store(settings)
    try:
        yield store
    finally:
        store.engine.dispose()


def members_of(store: PoolStore) -> list[Member]:
    """Return every member but those who came with a parcel and can't sign in."""
    listed = store.list_members()
    return [m for m in listed if not m.pseudonym.startswith(FOREIGN_PSEUDONYM)]


def member_named(store: PoolStore, name: str) -> Member:
    """Return the member of a name whose token was not revoked.

    Raises:
        Conflict: there is none.
    """
    found = [m for m in members_of(store) if m.name == name and m.revoked is None]
    if not found:
        raise unknown(name)
    return found[0]


def unknown(name: str) -> Conflict:
    """Return what to say of a name that no member has."""
    return Conflict(f"There is no member {name}; see `mendpool pool member list`.")
