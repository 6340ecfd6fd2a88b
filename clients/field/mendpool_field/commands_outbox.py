"""`mendpool outbox`: what is not sent yet, and why; and how what was refused is mended."""

import json
from typing import TYPE_CHECKING, Annotated, Any

import typer

from mendpool_field import console, options
from mendpool_field.errors import BadUsage

if TYPE_CHECKING:
    from collections.abc import Collection

    from mendpool.core.errors import Complaint
    from mendpool_field.outbox import Entry
    from mendpool_field.settings import Settings

app = typer.Typer(
    help="List what is not sent yet, and why. What the pool refused is set aside with the "
    "reason; it never holds up the rest, and `outbox fix` mends it.",
    invoke_without_command=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    add_completion=False,
)


@app.callback()
def outbox(
    ctx: typer.Context,
    retry: Annotated[
        str | None,
        typer.Option("--retry", metavar="ID", help="Let one that was set aside wait again."),
    ] = None,
    drop: Annotated[
        str | None, typer.Option("--drop", metavar="ID", help="Throw one away, unsent.")
    ] = None,
    as_json: options.Json = False,
) -> None:
    """List what is not sent yet, and why.

    What the pool refused is set aside with the reason; it never holds up the rest.
    """
    from mendpool_field.layout import para
    from mendpool_field.outbox import Outbox

    if ctx.invoked_subcommand is not None:
        return
    known = console.settings()
    box = Outbox(known.home)
    if retry is not None:
        box.retry(box.entry_known_as(retry))
    if drop is not None:
        box.drop(box.entry_known_as(drop))
    entries, unread = box.entries(), box.damaged()
    damaged = [str(path) for path in unread]
    aside = {entry.id for entry in entries if entry.state == "parked"}
    waits = any(entry.state == "waiting" for entry in entries)
    why = _why(known) if waits else None
    told = {
        "entries": [_told(entry) for entry in entries],
        "damaged": damaged,
        "waiting_why": why,
    }
    lines = [line for entry in entries for line in _lines(entry, aside)]
    for path in unread:
        lines += para(f"damaged: {path}: {box.why_unread(path)}", console.width())
    if why is not None:
        lines += para(why, console.width())
    if waits:
        first = "mendpool join URL, then " if known.service is None else ""
        lines += para(f"{first}mendpool sync sends what waits.", console.width())
    console.show(told, "\n".join(lines or ["Nothing waits."]), as_json=as_json)


@app.command()
def fix(
    entry_id: Annotated[str, typer.Argument(metavar="ID", help="Whole, or a piece.")],
    put: Annotated[
        list[str] | None,
        typer.Option(
            "--set",
            metavar="PLACE=VALUE",
            help="Change one place, such as /readings/0/unit=V; nothing after = removes it. "
            "Repeatable. Without it you are asked.",
        ),
    ] = None,
    file: Annotated[
        str | None,
        typer.Option("--with", metavar="FILE", help="Take this body; - for stdin."),
    ] = None,
    require_online: options.RequireOnline = False,
    as_json: options.Json = False,
) -> None:
    """Mend one that was refused, place by place, and send it.

    mendpool outbox fix 3f9a2c
    """
    from mendpool_field.compose import body_text
    from mendpool_field.mending import mended, with_places
    from mendpool_field.outbox import Outbox
    from mendpool_field.scrubbing import scrubbed_here
    from mendpool_field.sending import Sending, send_kept

    known = console.settings()
    box = Outbox(known.home)
    entry = box.entry_known_as(entry_id)
    if entry.kind == "photo":
        raise BadUsage(
            "A photograph can't be mended here.",
            f"mendpool outbox --retry {entry.id[-8:]} sends it again, --drop throws it away.",
        )
    if entry.reason:
        console.talk(f"It was refused: {entry.reason}")
    body = console.read_object_file(file) if file is not None else json.loads(entry.body)
    body = with_places(body, put or [])
    interactive = not put and file is None
    if interactive and not console.someone_is_there() and entry.status not in _NO_FAULT_OF_IT:
        raise BadUsage(
            "Nobody is there to be asked what it should be.",
            f"Say it: mendpool outbox fix {entry.id[-8:]} --set /readings/0/unit=V, "
            "or --with FILE",
        )
    body = mended(body, _check(entry), _ask)
    clean, _ = scrubbed_here(known, body)
    fresh = box.mended(entry, body_text(clean), console.new_id())
    trouble = None
    if known.service is None:
        from mendpool_field.errors import NoPool

        trouble = NoPool()
    send_kept(known, box, fresh, clean, Sending(trouble, require_online, as_json))


_NO_FAULT_OF_IT = frozenset({409, 410})
"""It can go as it is, under an id of its own."""


def _check(entry: "Entry") -> Any:  # noqa: ANN401 - a function of a body
    from mendpool.core.record.report import Followup
    from mendpool_field.checking import check_whole_report, typed

    if entry.kind == "followup":
        return lambda body: typed(Followup, body)
    catalogue = console.catalogue(console.settings())
    return lambda body: check_whole_report(body, catalogue)


def _ask(complaint: "Complaint", stands: object) -> str:
    from mendpool_field.explain import complaint_lines

    (line,) = complaint_lines([complaint])
    console.talk(line)
    now = "" if stands is None else f" [now: {json.dumps(stands, ensure_ascii=False)}]"
    try:
        return console.read_line(f"Enter takes it out.{now} What should it be? ").strip()
    except EOFError:
        raise BadUsage(
            "It was not mended; it stays set aside as it was.",
            "Go on with the same command, or give --set PLACE=VALUE.",
        ) from None


def _told(entry: "Entry") -> dict[str, Any]:
    return {
        "id": entry.id,
        "kind": entry.kind,
        "report": entry.report,
        "state": entry.state,
        "reason": entry.reason,
        "body": json.loads(entry.body),
    }


def _why(known: "Settings") -> str | None:
    """Say what kept the waiting ones the last time, and when that was; None if unknown."""
    from mendpool_field.copy_place import ago
    from mendpool_field.errors import NoPool
    from mendpool_field.explain import explain
    from mendpool_field.not_sent import kept_why

    if known.service is None:
        return explain(NoPool()).says
    why = kept_why(known.home)
    if why is None:
        return None
    return f"Last tried {ago(console.now_s() - why.at)}: {why.says}"


def _lines(entry: "Entry", aside: "Collection[str]") -> list[str]:
    from mendpool_field.layout import para

    belonging = "photograph" if entry.kind == "photo" else "follow-up"
    what = "report" if entry.kind == "report" else f"{belonging} of {entry.report}"
    state = "waiting to be sent" if entry.state == "waiting" else "set aside"
    if entry.state == "waiting" and entry.kind == "photo" and entry.report in aside:
        state = "waiting for its report, which is set aside"
    lines = [entry.id, *para(f"{what}, {state}", console.width(), first="  ")]
    if entry.reason:
        lines += para(entry.reason, console.width(), first="  ")
    if entry.state == "parked" and entry.kind == "photo":
        lines.append(f"  mendpool outbox --drop {entry.id[-8:]}")
    elif entry.state == "parked":
        lines.append(f"  mendpool outbox fix {entry.id[-8:]}")
    return lines
