"""What the operator's commands share: errors as sentences, the clock, the open pool."""

import os
import shutil
import sys
import textwrap
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, NoReturn

import typer
from pydantic import ValidationError
from sqlalchemy.engine import make_url

from mendpool.core.errors import Conflict, MendpoolError, RefusedInput, TemporarilyImpossible
from mendpool.settings import Settings
from mendpool.store.engine import make_engine
from mendpool.store.pool_store import PoolStore
from mendpool.store.schema import schema_state
from mendpool.store.values import FOREIGN_PSEUDONYM, Member

Json = Annotated[bool, typer.Option("--json", help="Print one JSON object.")]
_NARROWEST, _WIDEST = 30, 100
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
    except TemporarilyImpossible as error:
        stop(_read_only_disk() or str(error), FAILED)
    except MendpoolError as error:
        stop(str(error) or "that can't be done", FAILED)


def say(text: str, *, err: bool = False, first: str = "") -> None:
    """Print a sentence, wrapped to the terminal; a pipe gets it in one line.

    A word is never cut, so that a code, a path or an id can be taken as it stands.

    Args:
        first: leads the first line; the others begin as far in, with room for a list's.
    """
    stream = sys.stderr if err else sys.stdout
    for line in text.split("\n"):
        told = first + line
        if stream.isatty() or "COLUMNS" in os.environ:
            wide = max(_NARROWEST, min(_WIDEST, shutil.get_terminal_size().columns))
            told = textwrap.fill(
                line,
                wide,
                initial_indent=first,
                subsequent_indent=" " * len(first) or "  ",
                break_long_words=False,
                break_on_hyphens=False,
            )
        typer.echo(told, err=err)


def stop(says: str, code: int) -> NoReturn:
    """Say why it ends, and end with an exit code."""
    say(says, err=True)
    raise typer.Exit(code)


def _read_only_disk() -> str | None:
    """Say so where the pool's file lies on a disk that takes no writes; SQLite can't tell."""
    url = make_url(Settings().database_url)
    if url.get_backend_name() != "sqlite" or not hasattr(os, "statvfs"):
        return None
    folder = Path(str(url.database)).parent
    if not folder.is_dir() or not os.statvfs(folder).f_flag & os.ST_RDONLY:
        return None
    return (
        f"The disk of {folder} is read-only, and a pool can't be opened there: mount it for"
        " writing, or copy the pool's file, and its -wal if there is one, to another disk and"
        " name it in MENDPOOL_DATABASE_URL."
    )


def now() -> datetime:
    """Return the time, aware, in UTC."""
    return datetime.now(UTC)


@contextmanager
def opened_pool(settings: Settings) -> Iterator[PoolStore]:
    """Give the pool, and let go of the database at the end of the block.

    Raises:
        MendpoolError: it is not there, or not current, with what to run.
    """
    engine = make_engine(settings.database_url)
    try:
        state = schema_state(engine)
        if state != "current":
            todo = {
                "missing": "run `mendpool pool init` first",
                "behind": "run `mendpool pool migrate`",
                "ahead": "it was made by a newer mendpool: install that one",
            }[state]
            raise MendpoolError(f"The pool's tables are {state}: {todo}.")
        yield PoolStore(engine)
    finally:
        engine.dispose()


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
