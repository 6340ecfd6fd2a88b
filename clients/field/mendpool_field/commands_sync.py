"""`mendpool sync`: send what waits, then bring the member's own copy up to date."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated, Any

import typer

from mendpool_field import console, options
from mendpool_field.errors import (
    NO_ANSWER,
    FieldError,
    NotMendpool,
    NotOnline,
    NotSignedIn,
    Refused,
    Unreachable,
)
from mendpool_field.exitcodes import ExitCode
from mendpool_field.flush import FORBIDDEN
from mendpool_field.sending import send_waiting, tell_trouble, trouble_code
from mendpool_field.settings import Settings

if TYPE_CHECKING:
    from mendpool_field.copy_sync import Brought, CopySync
    from mendpool_field.flush import Flushed
    from mendpool_field.outbox import Entry, Outbox

Anew = Annotated[
    bool, typer.Option("--anew", help="Drop the copy and fetch all of it, of whatever pool.")
]
SendOnly = Annotated[
    bool, typer.Option("--send-only", help="Send what waits; leave the copy as it is.")
]


def sync(
    anew: Anew = False,
    send_only: SendOnly = False,
    require_online: options.RequireOnline = False,
    as_json: options.Json = False,
) -> None:
    """Send what waits in the outbox, then bring your own copy of the pool up to date.

    0: done, or what could not be done waits for the next time. 3: something was refused and
    set aside. 4: the token is no longer good; everything still waits, and the copy stays.
    5: no way to the pool, and there is no copy yet.
    """
    from mendpool_field.copy_place import CopyPlace
    from mendpool_field.outbox import Outbox

    known = console.settings()
    outbox = Outbox(known.home)
    sent = send_waiting(known, outbox, console.patience())
    brought, trouble = None, sent.trouble
    again: Sequence[Entry] = ()
    if not send_only and not _is_hopeless(trouble):
        before = outbox.sent()
        brought, trouble = _copied(known, anew=anew)
        if brought is not None and brought.state == "current":
            again = _lost(known, outbox, before)
    if again:
        sent = _sent_again(known, outbox, sent, again)
        trouble = sent.trouble
    told = {
        **_sent_told(outbox, sent),
        "again": [entry.id for entry in again],
        "copy": _copy_told(brought, trouble),
    }
    console.show(told, _text(sent, brought), as_json=as_json)
    _talk(outbox, sent)
    if trouble is not sent.trouble:
        tell_trouble(trouble)
    if brought is not None and brought.state == "busy":
        console.talk("Another mendpool is fetching the copy at this moment.")
    has_copy = send_only or CopyPlace(known.home).state() is not None
    _end(sent, trouble, has_copy=has_copy, require_online=require_online)


def copy_sync_of(known: Settings) -> "CopySync":
    """Return what brings the copy up to date.

    Raises:
        NoPool: none was joined.
    """
    from mendpool.usecases.derive_again import Deriver
    from mendpool_field.copy_fetch import Fetching, Progress
    from mendpool_field.copy_place import CopyPlace
    from mendpool_field.copy_sync import CopySync

    catalogue = console.catalogue(known)
    gateway = console.open_gateway(known)
    place = CopyPlace(known.home)
    progress = Progress(console.talk, console.steady_s)
    return CopySync(
        place,
        gateway.url,
        Fetching(gateway, console.patience(), progress),
        catalogue,
        Deriver(catalogue, lambda: console.engine(known)),
        console.now_s(),
        progress,
        console.talk,
    )


def _copied(known: Settings, *, anew: bool) -> tuple["Brought | None", FieldError | None]:
    """Bring the copy up to date, or say why that can't be done now."""
    run = copy_sync_of(known)
    try:
        return run.bring(anew=anew), None
    except Refused as refused:
        # What became of the outbox is told all the same.
        out = refused.status == FORBIDDEN
        return None, NotSignedIn(refused.detail) if out else refused
    except (*NO_ANSWER, NotSignedIn) as trouble:
        return None, trouble


def _lost(known: Settings, outbox: "Outbox", sent: "Sequence[Entry]") -> "Sequence[Entry]":
    """Let what this pool had of the member's, and has no longer, wait again."""
    from mendpool_field.copy_place import CopyPlace
    from mendpool_field.own_copy import CopyFiles, opened
    from mendpool_field.sent_again import compared

    place = CopyPlace(known.home)
    state = place.state()
    if state is None:
        return ()
    with opened(CopyFiles(place.file(state.folder), place.index(state.folder))) as store:
        return compared(outbox, sent, store, state.pool)


def _sent_again(
    known: Settings, outbox: "Outbox", sent: "Flushed", again: "Sequence[Entry]"
) -> "Flushed":
    """Send what the pool has lost, and say so; return what came of all that was sent."""
    from mendpool_field.sent_again import forgotten

    many = f"{len(again)} of yours" if len(again) > 1 else "one of yours"
    console.talk(
        f"The pool no longer has {many} that it had, as after it was put back to an older "
        "state. Sent again:"
    )
    for entry in again:
        console.talk(f"{entry.kind} {entry.id}")
    more = send_waiting(known, outbox, console.patience())
    gone = {entry.id for entry in forgotten(outbox, again)}
    for entry_id in sorted(gone):
        console.talk(f"{entry_id} was taken back meanwhile; it is forgotten here too.")
    sent.sent += more.sent
    sent.parked += [(entry, why) for entry, why in more.parked if entry.id not in gone]
    sent.waiting, sent.trouble, sent.busy = len(outbox.waiting()), more.trouble, more.busy
    return sent


def _is_hopeless(trouble: FieldError | None) -> bool:
    """Tell whether what kept the outbox from being sent keeps the copy away too."""
    out = isinstance(trouble, Refused) and trouble.status == FORBIDDEN
    return out or isinstance(trouble, Unreachable | NotMendpool | NotSignedIn)


def _sent_told(outbox: "Outbox", sent: "Flushed") -> dict[str, Any]:
    return {
        "sent": [entry.id for entry in sent.sent],
        "parked": [{"id": e.id, "reason": r} for e, r in _reasons(outbox, sent.parked)],
        "waiting": sent.waiting,
        "busy": sent.busy,
    }


def _copy_told(brought: "Brought | None", trouble: FieldError | None) -> dict[str, Any]:
    if brought is None:
        return {"state": "kept" if trouble is not None else "left"}
    from dataclasses import asdict

    return asdict(brought)


def _text(sent: "Flushed", brought: "Brought | None") -> str:
    from mendpool_field.copy_place import reports_text
    from mendpool_field.layout import para

    lines = [f"Sent {len(sent.sent)}, set aside {len(sent.parked)}, waiting {sent.waiting}."]
    if brought is not None and brought.state == "current":
        came = f"{brought.new:,} new, {brought.withdrawn:,} withdrawn"
        lines.append(f"Your copy holds {reports_text(brought.reports)}: {came}.")
    elif brought is not None and brought.state == "none":
        lines.append("This pool hands out no copies.")
    return "\n".join(row for line in lines for row in para(line, console.width()))


def _talk(outbox: "Outbox", sent: "Flushed") -> None:
    for entry, reason in _reasons(outbox, sent.parked):
        console.talk(f"{entry.kind} {entry.id} was set aside: {reason}")
    tell_trouble(sent.trouble)
    if sent.busy:
        console.talk("Another mendpool is sending at this moment.")
    for path in outbox.damaged():
        why = outbox.why_unread(path)
        console.talk(f"{path} can't be read: {why}. It is left as it is and held up nothing.")


def _end(
    sent: "Flushed", trouble: FieldError | None, *, has_copy: bool, require_online: bool
) -> None:
    wanted = sent.waiting > 0 or trouble is not None
    code = trouble_code(sent.trouble or trouble, require_online=require_online and wanted)
    if code is ExitCode.NOT_ONLINE:
        raise NotOnline(sent.waiting)
    if code is ExitCode.DONE and sent.parked:
        code = ExitCode.REFUSED
    if code is ExitCode.DONE and trouble is not None and not (has_copy or sent.waiting):
        code = ExitCode.NO_SERVICE
    if code is not ExitCode.DONE:
        console.end(code)


def _reasons(
    outbox: "Outbox", parked: Sequence[tuple["Entry", Exception]]
) -> list[tuple["Entry", str]]:
    known = {entry.id: entry.reason or "" for entry in outbox.entries()}
    return [(entry, known.get(entry.id, "")) for entry, _ in parked]


COMMANDS: Sequence[Any] = (sync,)
