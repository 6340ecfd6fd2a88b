"""`mendpool pool review`: what a steward should look at, and what was done about it."""

import json
import os
from collections.abc import Callable
from dataclasses import asdict
from datetime import datetime
from typing import TYPE_CHECKING, Annotated
from uuid import UUID

import typer

from mendpool.admin_common import (
    USAGE,
    Json,
    member_named,
    now,
    opened_pool,
    plainly,
    say,
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
    newest: Annotated[
        int | None,
        typer.Option(
            "--newest", metavar="N", min=1, help="Look at so many of the newest; 5,000 else."
        ),
    ] = None,
    words: Annotated[
        bool,
        typer.Option("--words", help="List the words that members put back, by how many did."),
    ] = False,
    drop: Annotated[
        str | None,
        typer.Option("--drop", metavar="WORD", help="Erase such a word: it names somebody."),
    ] = None,
    as_json: Json = False,
) -> None:
    """List reports to look at, with reasons; withdraw or keep one, for a reason.

    Looked at are floods, copies, figures that can't be, advice that can kill, and parts
    such a set has not. Words that members put back are listed by --words, never with who.
    """
    with plainly(), opened_pool(settings := Settings()) as store:
        if drop is not None:
            _drop(store, drop)
            return
        if words:
            _words(settings, store, everything=everything, as_json=as_json)
            return
        if trail:
            _trail(store, as_json=as_json)
            return
        os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
        if withdraw is None and keep is None:
            _list(settings, store, newest, everything=everything, as_json=as_json)
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
            say(f"{report} is {came}; {name}'s reason is in the trail.")


def _do(settings: Settings, act: Act, report: UUID, steward: "Member", reason: str) -> None:
    from mendpool.main import open_place

    try:
        act(open_place(settings), steward, report, reason, now())
    except NotAllowed as error:
        raise Conflict(f"{steward.name} is no steward.") from error
    except NotFound as error:
        raise Conflict(f"There is no report {report}, or it was withdrawn.") from error


def _list(
    settings: Settings,
    store: "PoolStore",
    newest: int | None,
    *,
    everything: bool,
    as_json: bool,
) -> None:
    from mendpool.core.catalogue.files import packaged_catalogue
    from mendpool.usecases.review import NEWEST, flagged

    catalogue, most = packaged_catalogue(settings.cache_dir), newest or NEWEST
    held = store.report_count()
    if held > most:
        says = f"Looking at the newest {most:,} of {held:,} reports; --newest N looks further."
        say(says, err=True)
    found = flagged(store, catalogue, everything=everything, newest=most)
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
        say(f"{one.report}  {one.member}  {one.received:%Y-%m-%d}")
        for why in one.why:
            say(f"{why.code}: {why.says}", first="  ")
    if not as_json:
        count = len(found)
        says = f"{count} to look at: --withdraw ID or --keep ID, with --reason and --as."
        say(says if count else "Nothing to look at.")


def _words(settings: Settings, store: "PoolStore", *, everything: bool, as_json: bool) -> None:
    from mendpool.core.catalogue.files import packaged_catalogue
    from mendpool.usecases.corrections import words_to_look_at

    catalogue = packaged_catalogue(settings.cache_dir)
    found = words_to_look_at(store, catalogue, everything=everything)
    for one in found:
        people = "1 person" if one.people == 1 else f"{one.people} people"
        if as_json:
            typer.echo(json.dumps(asdict(one)))
        else:
            say(f"{one.word} ({one.kind}): {people}")
    if not as_json:
        says = (
            "The trade's go into the catalogue's words; --drop WORD erases what names anyone."
        )
        say(says if found else "No word was put back.")


def _drop(store: "PoolStore", word: str) -> None:
    if not store.erase_correction(word.lower()):
        raise Conflict(f"Nobody put “{word}” back; see `mendpool pool review --words`.")
    store.erase_remnants()
    say(f"“{word}” is erased here. Older backups keep it.")


def _trail(store: "PoolStore", *, as_json: bool) -> None:
    judged = store.judgements()
    if not judged and not as_json:
        say("Nothing was judged yet.")
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
            say(f"{at}: {line.report_id} {line.came} by {line.name}, {why}")


def _uuid(typed: str) -> UUID:
    try:
        return UUID(typed)
    except ValueError:
        stop(f"{typed} is no id of a report.", USAGE)
