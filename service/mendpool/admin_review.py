"""`mendpool pool review`: what a steward should look at, and what was done about it."""

import json
import os
from collections.abc import Callable
from datetime import datetime
from typing import TYPE_CHECKING, Annotated
from uuid import UUID

import typer

from mendpool.admin_common import (
    USAGE,
    Json,
    member_named,
    now,
    open_store,
    plainly,
    stop,
)
from mendpool.core.errors import Conflict, NotAllowed, NotFound
from mendpool.settings import Settings

if TYPE_CHECKING:
    from mendpool.store.pool_store import PoolStore
    from mendpool.store.values import Member
    from mendpool.usecases.workplace import Workplace

Act = Callable[["Workplace", "Member", UUID, str, datetime], None]


def review(
    withdraw: Annotated[
        str | None, typer.Option("--withdraw", metavar="ID", help="Withdraw this report.")
    ] = None,
    keep: Annotated[
        str | None,
        typer.Option("--keep", metavar="ID", help="Looked at: it stands, and is not listed."),
    ] = None,
    reason: Annotated[
        str | None,
        typer.Option(
            "--reason", help="Why. It stays in the trail: no word of the report, no name."
        ),
    ] = None,
    name: Annotated[str | None, typer.Option("--as", help="The steward who does it.")] = None,
    trail: Annotated[
        bool, typer.Option("--trail", help="List what was done: when, who, which, why.")
    ] = False,
    everything: Annotated[
        bool, typer.Option("--all", help="List those too that a steward let stand.")
    ] = False,
    as_json: Json = False,
) -> None:
    """List reports to look at, with reasons; withdraw or keep one, for a reason.

    Looked at are floods, copies, figures that can't be, advice that can kill, and parts
    such a set has not.
    """
    with plainly():
        settings = Settings()
        store = open_store(settings)
        if trail:
            _trail(store, as_json=as_json)
            return
        os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
        if withdraw is None and keep is None:
            _list(settings, store, everything=everything, as_json=as_json)
            return
        from mendpool.usecases.review import let_stand, take_back

        if (withdraw is not None and keep is not None) or reason is None or name is None:
            stop("Give one of --withdraw and --keep, with --reason and --as.", USAGE)
        act: Act = let_stand if withdraw is None else take_back
        came = "kept" if withdraw is None else "withdrawn"
        report = _uuid(withdraw or keep or "")
        _do(settings, act, report, member_named(store, name), reason)
        if as_json:
            typer.echo(json.dumps({"report": str(report), "came": came, "by": name}))
        else:
            typer.echo(f"{report} is {came}; {name}'s reason is in the trail.")


def _do(settings: Settings, act: Act, report: UUID, steward: "Member", reason: str) -> None:
    from mendpool.main import open_place

    try:
        act(open_place(settings), steward, report, reason, now())
    except NotAllowed as error:
        raise Conflict(f"{steward.name} is no steward.") from error
    except NotFound as error:
        raise Conflict(f"There is no report {report}, or it was withdrawn.") from error


def _list(settings: Settings, store: "PoolStore", *, everything: bool, as_json: bool) -> None:
    from mendpool.core.catalogue.files import packaged_catalogue
    from mendpool.usecases.review import flagged

    found = flagged(store, packaged_catalogue(settings.cache_dir), everything=everything)
    for one in found:
        if as_json:
            told = {
                "report": str(one.report),
                "member": one.member,
                "received": one.received.strftime("%Y-%m-%dT%H:%M:%SZ"),
                "why": [why._asdict() for why in one.why],
            }
            typer.echo(json.dumps(told))
            continue
        typer.echo(f"{one.report}  {one.member}  {one.received:%Y-%m-%d}")
        for why in one.why:
            typer.echo(f"  {why.code}: {why.says}")
    if not as_json:
        count = len(found)
        says = f"{count} to look at: --withdraw ID or --keep ID, with --reason and --as."
        typer.echo(says if count else "Nothing to look at.")


def _trail(store: "PoolStore", *, as_json: bool) -> None:
    judged = store.judgements()
    if not judged and not as_json:
        typer.echo("Nothing was judged yet.")
    for line in judged:
        at = line.at.strftime("%Y-%m-%dT%H:%M:%SZ")
        if as_json:
            told = {
                "at": at,
                "by": line.name,
                "report": str(line.report_id),
                "came": line.came,
                "reason": line.reason,
            }
            typer.echo(json.dumps(told))
        else:
            why = line.reason or "no reason given"
            typer.echo(f"{at}: {line.report_id} {line.came} by {line.name}, {why}")


def _uuid(typed: str) -> UUID:
    try:
        return UUID(typed)
    except ValueError:
        stop(f"{typed} is no id of a report.", USAGE)
