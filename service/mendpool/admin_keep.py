"""The operator's commands that keep a pool: backup, restore, check, privacy."""

import json
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated
from uuid import UUID

import typer
from sqlalchemy import Engine
from sqlalchemy.engine import make_url

from mendpool.admin_common import (
    FAILED,
    REFUSED,
    USAGE,
    Json,
    now,
    opened_pool,
    plainly,
    say,
    stop,
)
from mendpool.core.errors import MendpoolError
from mendpool.settings import Settings
from mendpool.store.engine import make_engine

if TYPE_CHECKING:
    from mendpool.core.privacy.anonymity import Anonymity
    from mendpool.store.backup import Newer
    from mendpool.store.sound import Finding

_ID = re.compile(r"[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}")
_SQLITE = b"SQLite format 3\0"
_MANY = 10_000
"""Reports whose words are not read again within half a minute."""


def backup(
    file: Annotated[Path, typer.Argument(help="Where to; replaced in one step.")],
    as_json: Json = False,
) -> None:
    """Back the pool up, while it is served too. The backup is opened and counted."""
    with plainly(), opened_pool(Settings()) as store:
        from mendpool.store.backup import back_up

        try:
            made = back_up(store.engine, file)
        except OSError as error:
            stop(f"{file} can't be written: {error.strerror}", FAILED)
        if as_json:
            typer.echo(json.dumps(asdict(made)))
            return
        say(f"{file} holds {made.rows['report']} reports, {made.last} changes; whole.")
        say(f"Its content: {made.sha256}")


def restore(
    file: Annotated[Path, typer.Argument(help="A backup.")],
    over: Annotated[
        bool, typer.Option("--over", help="Replace a pool that holds reports or is damaged.")
    ] = False,
    since: Annotated[
        list[Path] | None,
        typer.Option(
            help="A later backup, a parcel of this pool, or a list of ids: what these say was "
            "taken back is taken back again, and whom a backup shut out is out. The pool "
            "replaced is asked by itself."
        ),
    ] = None,
    lose_newer: Annotated[
        bool,
        typer.Option(
            "--lose-newer",
            help="Go on though the pool there can't be read: whom it shut out since, and what "
            "was taken back, is back.",
        ),
    ] = False,
    as_json: Json = False,
) -> None:
    """Put a backup in the pool's place. Withdrawals made since stay made."""
    with plainly():
        settings = Settings()
        from mendpool.store.backup import Newer
        from mendpool.store.backup import restore as put_back

        try:
            told = [_newer(path) for path in since or ()]
            newer = Newer(
                [report for one in told for report in one.taken_back],
                [member for one in told for member in one.out],
            )
            with _engine(settings) as engine:
                done = put_back(
                    engine, file, now(), over=over, lose_newer=lose_newer, newer=newer
                )
        except OSError as error:
            stop(f"It can't be restored: {error.strerror}. Nothing changed.", FAILED)
        if as_json:
            typer.echo(json.dumps(asdict(done)))
            return
        say(
            f"Restored {done.backup.rows['report']} reports; "
            f"{done.withdrawn_again} taken back again."
        )
        if not done.before_known or not done.before_there:
            say(
                "No pool could be asked whom it shut out, and what was taken back, since the "
                f"{'newest file' if since else 'backup'}. Before you serve it, shut them out "
                "again: mendpool pool member revoke NAME. Then ask your members what they took "
                "back: mendpool withdraw ID, by them or a steward."
            )
        say("Next: mendpool pool check, then mendpool pool serve")


def check(
    quick: Annotated[
        bool, typer.Option("--quick", help="Leave out what reads every word again.")
    ] = False,
    as_json: Json = False,
) -> None:
    """Check the database, the feed, the index, the cases and privacy; changes nothing.

    Exit code 0: all is well. 3: something is to be put right. 5: the database is damaged.
    """
    with plainly():
        settings = Settings()
        if not _is_there(settings.database_url):
            raise MendpoolError("There is no pool: run `mendpool pool init` first.")
        from mendpool.store.sound import database_findings

        with _engine(settings) as engine:
            found = [f for f in database_findings(engine) if f.part == "database"]
        if not found:
            from mendpool.main import index_folder, sleeping_place
            from mendpool.usecases.check_pool import pool_findings

            with opened_pool(settings) as store:
                if not quick and store.report_count() > _MANY:
                    says = "Reading every word again takes minutes; --quick leaves that out."
                    say(says, err=True)
                place = sleeping_place(settings)
            folder = index_folder(settings, place.catalogue, place.store)
            found = list(pool_findings(place, folder, quick=quick))
            place.store.engine.dispose()
        _say(found, as_json=as_json)
        if any(finding.part == "database" for finding in found):
            raise typer.Exit(FAILED)
        if found:
            raise typer.Exit(REFUSED)


def privacy(as_json: Json = False) -> None:
    """Measure how well members hide among each other: as held, coarsened, as a parcel goes."""
    with plainly(), opened_pool(Settings()) as store:
        from mendpool.usecases.anonymous import hidden_in

        hidden = hidden_in(store)
        if as_json:
            typer.echo(json.dumps(asdict(hidden)))
            return
        for says, name in _MEASURES:
            held, coarse, leaving = (
                _figure(s, name) for s in (hidden.held, hidden.coarse, hidden.leaving)
            )
            say(f"{says}: held {held}, coarse {coarse}, leaving {leaving}")
        say("held: what a neighbour may know (make, model, size, hours, region, month).")
        say("coarse: class of set and year. leaving: what a parcel takes, 3 people least.")


_MEASURES = (
    ("reports", "records"),
    ("classes", "classes"),
    ("smallest class", "k"),
    ("fewest outcomes in one", "l"),
    ("of one person only", "unique_share"),
    ("classes under 3 people", "under_k"),
    ("classes of one outcome", "under_l"),
    ("average risk", "average_risk"),
)


def _figure(measured: "Anonymity", name: str) -> str:
    value = getattr(measured, name)
    return f"{value:.1%}" if isinstance(value, float) else str(value)


@contextmanager
def _engine(settings: Settings) -> Iterator[Engine]:
    engine = make_engine(settings.database_url)
    try:
        yield engine
    finally:
        engine.dispose()


def _newer(path: Path) -> "Newer":
    """Return what a file tells of the time after the backup."""
    from mendpool.store.backup import Newer, newer_in

    try:
        with path.open("rb") as file:
            is_pool = file.read(len(_SQLITE)) == _SQLITE
    except OSError as error:
        stop(f"{path} can't be read: {error.strerror}", USAGE)
    if is_pool:
        return newer_in(path)
    found = []
    for line in path.read_text("utf-8").splitlines():
        word = line.strip()
        if word.startswith("{"):
            told = json.loads(word)
            if told.get("kind") != "withdrawal":
                continue
            word = str(told["id"])
        if not _ID.fullmatch(word):
            stop(f"{path}: a line is neither an id nor of a parcel. Nothing changed.", USAGE)
        found.append(UUID(word))
    return Newer(found)


def _is_there(url: str) -> bool:
    parsed = make_url(url)
    return parsed.get_backend_name() != "sqlite" or Path(str(parsed.database)).exists()


def _say(found: "list[Finding]", *, as_json: bool) -> None:
    if as_json:
        typer.echo(json.dumps({"well": not found, "findings": [asdict(f) for f in found]}))
        return
    for finding in found:
        say(f"{finding.part}: {finding.says}")
        say(finding.todo, first="  ")
    if not found:
        say("All is well.")
