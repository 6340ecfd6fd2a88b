"""The operator's command, `mendpool pool`: acts on the database and needs no token."""

import json
import os
import secrets
import sys
from dataclasses import asdict
from pathlib import Path
from typing import Annotated

import typer
from sqlalchemy.engine import make_url
from uuid_utils.compat import uuid7

from mendpool import admin_forget, admin_keep, admin_member, admin_parcel, admin_review
from mendpool.admin_common import FAILED, INTERRUPTED, REFUSED, USAGE, Json, opened_pool
from mendpool.admin_common import now as _now
from mendpool.admin_common import plainly as _plainly
from mendpool.admin_common import say as _say
from mendpool.admin_common import stop as _stop
from mendpool.core.errors import Conflict
from mendpool.listening import NoSuchPlace, keep_to_its_owner, open_to_others
from mendpool.settings import Settings
from mendpool.store.engine import make_engine
from mendpool.store.schema import schema_state
from mendpool.store.served import serving_it
from mendpool.store.sound import gap_in_feed, quickly_sound

app = typer.Typer(
    help="Run a pool: make it, serve it, its members.",
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    add_completion=False,
)
app.add_typer(admin_member.app, name="member")
admin_member.app.command("forget")(admin_forget.forget)
app.add_typer(admin_parcel.app, name="parcel")
for _command in (admin_keep.backup, admin_keep.restore, admin_keep.check, admin_keep.privacy):
    app.command()(_command)
app.command("invite")(admin_member.invite)
app.command("review")(admin_review.review)


def _prepare(settings: Settings) -> None:
    # Alembic, only for the two commands that need it: members are added by the dozen.
    from mendpool.store.migrate import migrate as migrate_database

    url = make_url(settings.database_url)
    if url.get_backend_name() == "sqlite" and url.database:
        Path(url.database).parent.mkdir(parents=True, exist_ok=True)
    migrate_database(settings.database_url)


@app.command()
def init(as_json: Json = False) -> None:
    """Make and migrate the pool. Again is harmless. Makes no member."""
    with _plainly():
        settings = Settings()
        _prepare(settings)
        with opened_pool(settings) as store:
            made = store.init_pool(uuid7(), secrets.token_bytes(32), _now())
        where = make_url(settings.database_url).render_as_string(hide_password=True)
        if as_json:
            typer.echo(json.dumps({"pool": str(made.pool_id), "database": where}))
        else:
            _say(f"The pool is there: {where}")
            _say("Next: mendpool pool member add NAME --steward, then mendpool pool serve")


@app.command()
def migrate() -> None:
    """Bring the pool's tables up to this version, and what is derived from its reports."""
    with _plainly():
        settings = Settings()
        _prepare(settings)
        _say("The tables are current.")
        with opened_pool(settings) as store:
            held = store.report_count()
        if held:
            os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
            from mendpool.main import derive_all, sleeping_place
            from mendpool.usecases.spread import processors

            made = derive_all(settings, sleeping_place(settings), processors(), _tell)
            _say(f"{made} cases derived again.")


@app.command()
def serve(
    host: Annotated[
        str | None, typer.Option(help="Where to listen; loopback by default.")
    ] = None,
    port: Annotated[int | None, typer.Option(help="0 takes a free one.")] = None,
    workers: Annotated[
        int | None,
        typer.Option(min=1, help="Processes that share the port; a core each is enough."),
    ] = None,
    tls_in_front: Annotated[
        bool,
        typer.Option(
            "--tls-in-front",
            help="Others reach it through a proxy with TLS only: needed for any address "
            "but loopback.",
        ),
    ] = False,
) -> None:
    """Run the service until it is stopped."""
    with _plainly():
        settings = Settings()
        host = settings.host if host is None else host
        _may_listen(host, shielded=tls_in_front or settings.tls_in_front)
        keep_to_its_owner(settings.database_url)
        with opened_pool(settings) as store:
            if not quickly_sound(store.engine):
                _tell(
                    "The database is large: no damage was found in the first ten seconds. "
                    "`mendpool pool check` looks at all of it."
                )
            if (gap := gap_in_feed(store.engine)) is not None:
                _tell(f"{gap[:1].upper()}{gap[1:]}: run `mendpool pool check`.")
        # Our matrices are small: a second thread costs ten times what it gives.
        os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
        # FastAPI and all that hangs on it, only for the one command that needs it.
        from mendpool.serving import serve as serve_pool

        with serving_it(store.engine):
            began = serve_pool(
                settings,
                host,
                settings.port if port is None else port,
                workers or settings.workers,
            )
        if not began:
            sys.exit(FAILED)


def _may_listen(host: str, *, shielded: bool) -> None:
    try:
        if shielded or not open_to_others(host):
            return
    except NoSuchPlace:
        _stop(f"{host} is no address known here: listen at 127.0.0.1.", USAGE)
    _stop(
        f"{host or 'An empty host'} is open to other machines, and tokens and reports would "
        "cross the line unhidden. Listen at 127.0.0.1, or put a proxy with TLS before it and "
        "say so: --tls-in-front, or MENDPOOL_TLS_IN_FRONT=true.",
        USAGE,
    )


@app.command("import")
def import_(
    file: Annotated[str, typer.Argument(help="JSON Lines; - reads standard input.")],
    name: Annotated[str, typer.Option("--as", help="The member who files them.")],
    workers: Annotated[
        int | None,
        typer.Option(min=1, help="Processes that read the lines; one a processor."),
    ] = None,
    as_json: Json = False,
) -> None:
    """File reports of a file, each line with its id. Again goes on or changes nothing."""
    with _plainly():
        settings = Settings()
        with opened_pool(settings) as store:
            found = [m for m in store.list_members() if m.name == name]
        if not found or found[0].revoked:
            raise Conflict(f"{name} is no member; see `mendpool pool member list`.")
        os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
        # The catalogue, the index and all, only for the commands that need it.
        from mendpool.main import bring_in
        from mendpool.usecases.spread import processors

        try:
            with sys.stdin.buffer if file == "-" else Path(file).open("rb") as lines:
                done = bring_in(settings, found[0], lines, workers or processors(), _tell)
        except OSError as error:
            _stop(f"{file} can't be read: {error.strerror}", USAGE)
        except KeyboardInterrupt:
            _stop("Stopped. What was filed stays; the same command goes on.", INTERRUPTED)
        if as_json:
            typer.echo(json.dumps(asdict(done)))
        else:
            says = f"{done.new} new, {done.unchanged} there already, {done.left_out} left out"
            says = f"{says}; {done.followups} new follow-ups."
            changed = done.new or done.followups
            _say(says if changed else f"Nothing changed: {says}")
        if done.left_out:
            raise typer.Exit(REFUSED)


def _tell(says: str) -> None:
    _say(says, err=True)


@app.command()
def export(
    file: Annotated[str, typer.Argument(help="Where to; - is standard output.")] = "-",
    as_csv: Annotated[bool, typer.Option("--csv", help="A table, a row a report.")] = False,
) -> None:
    """Write the pool's own reports as JSON Lines or CSV, without who sent them.

    What came from other pools is left out, and told: `pool parcel write` carries it on, and
    `pool move` takes the whole pool.
    """
    with _plainly(), opened_pool(Settings()) as store:
        from mendpool.usecases.bulk_out import Exported, csv_rows, json_lines

        done = Exported()
        pieces = csv_rows(store, done) if as_csv else json_lines(store, done)
        if file == "-":
            for piece in pieces:
                sys.stdout.write(piece)
            _tell_of_others(done.of_others)
            return
        half = Path(f"{file}.{os.getpid()}.part")
        try:
            with half.open("x", encoding="utf-8", newline="") as out:
                out.writelines(pieces)
                out.flush()
                os.fsync(out.fileno())
            half.replace(file)
        except OSError as error:
            _stop(f"{file} can't be written: {error.strerror}", FAILED)
        finally:
            half.unlink(missing_ok=True)
        _tell_of_others(done.of_others)


def _tell_of_others(count: int) -> None:
    if count:
        reports = "1 report" if count == 1 else f"{count} reports"
        _tell(f"{reports} of other pools left out; `mendpool pool parcel write` carries those.")


@app.command()
def move(
    to: Annotated[
        str,
        typer.Option(
            "--to",
            envvar="MENDPOOL_MOVE_TO",
            show_envvar=False,
            help="Address of an empty, migrated database. With a password in it, better by "
            "MENDPOOL_MOVE_TO: a command line can be read by others on the machine.",
        ),
    ],
    as_json: Json = False,
) -> None:
    """Copy the whole pool into an empty database; stop the service first."""
    with _plainly(), opened_pool(Settings()) as store:
        target = make_engine(to)
        try:
            if schema_state(target) != "current":
                says = "The target has no current tables: `mendpool pool migrate` there."
                raise Conflict(says)
            from mendpool.store.move import move as move_pool

            moved = move_pool(store.engine, target)
        finally:
            target.dispose()
        if as_json:
            typer.echo(json.dumps({"rows": moved.rows, "sha256": moved.sha256}))
            return
        for table, count in moved.rows.items():
            _say(f"{table}: {count}")
        _say(f"The same on both sides: {moved.sha256}")
        _say("Next: set MENDPOOL_DATABASE_URL to the new address.")
