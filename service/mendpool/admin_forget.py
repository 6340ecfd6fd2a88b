"""`mendpool pool member forget`: a member's right to be forgotten."""

import json
import os
import sys
from typing import Annotated

import typer

from mendpool.admin_common import (
    USAGE,
    Json,
    members_of,
    now,
    opened_pool,
    plainly,
    say,
    stop,
    unknown,
)
from mendpool.core.errors import NotFound
from mendpool.settings import Settings

Name = Annotated[str, typer.Argument(help="As `mendpool pool member list` has it.")]
Yes = Annotated[bool, typer.Option("--yes", "-y", help="Don't ask first.")]


def forget(name: Name, yes: Yes = False, as_json: Json = False) -> None:
    """Erase every report of a member, the name and the token. Nothing brings them back."""
    with plainly(), opened_pool(Settings()) as store:
        if name not in {member.name for member in members_of(store)}:
            raise unknown(name)
        if not yes and not _agreed(name):
            say("Nothing was erased.", err=True)
            return
        os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
        from mendpool.main import open_place, open_snapshots
        from mendpool.usecases.follow_up import forget_member

        try:
            settings = Settings()
            place = open_place(settings)
            erased = forget_member(place, name, now())
            open_snapshots(settings, place).drop_stale()
        except NotFound as error:
            raise unknown(name) from error
        if as_json:
            typer.echo(json.dumps({"erased": erased}))
            return
        say(f"{erased} reports erased, and the name. Copies drop them at their next sync;")
        say("older backups, and copies that never sync, keep them.")


def _agreed(name: str) -> bool:
    if not sys.stdin.isatty():
        stop("Nobody is there to say yes, so nothing was erased. Add --yes.", USAGE)
    return typer.confirm(f"Erase every report of {name} for good?", err=True)
