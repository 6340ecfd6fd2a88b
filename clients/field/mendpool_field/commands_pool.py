"""`mendpool join`, `sync` and `withdraw`: this machine and its pool."""

import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated, Any

import typer

from mendpool_field import console, options
from mendpool_field.errors import NotOnline
from mendpool_field.exitcodes import ExitCode
from mendpool_field.sending import send_waiting, tell_trouble, trouble_code

if TYPE_CHECKING:
    from mendpool_field.outbox import Entry, Outbox


def join(
    url: Annotated[str, typer.Argument(metavar="URL", help="The pool's address.")],
) -> None:
    """Join a pool with the token you were given.

    The token is asked for, or read from stdin or MENDPOOL_TOKEN; it is tried first, and
    kept in a file that only you can read.
    """
    from mendpool_field.settings import Service, checked_token, checked_url, keep_service

    address = checked_url(url)
    typed = console.environment("MENDPOOL_TOKEN") or console.read_secret("Token: ")
    service = Service(address, checked_token(typed))
    home = console.settings().home
    console.open_service(service).check_token()
    keep_service(home, service)
    console.talk(f"Joined {address}.")


def sync(require_online: options.RequireOnline = False, as_json: options.Json = False) -> None:
    """Send what waits in the outbox.

    0: all sent, or what could not be sent still waits. 3: something was refused and set
    aside. 4: the token is no longer good; everything still waits.
    """
    from mendpool_field.outbox import Outbox

    known = console.settings()
    outbox = Outbox(known.home)
    done = send_waiting(known, outbox, console.patience())
    told = {
        "sent": [entry.id for entry in done.sent],
        "parked": [{"id": e.id, "reason": r} for e, r in _reasons(outbox, done.parked)],
        "waiting": done.waiting,
        "busy": done.busy,
    }
    text = f"Sent {len(done.sent)}, set aside {len(done.parked)}, waiting {done.waiting}."
    console.show(told, text, as_json=as_json)
    for entry, reason in _reasons(outbox, done.parked):
        console.talk(f"{entry.kind} {entry.id} was set aside: {reason}")
    tell_trouble(done.trouble)
    if done.busy:
        console.talk("Another mendpool is sending at this moment.")
    for path in outbox.damaged():
        console.talk(f"{path} can't be read; it was left where it is and held up nothing.")
    code = trouble_code(done.trouble, require_online=require_online and done.waiting > 0)
    if code is ExitCode.NOT_ONLINE:
        raise NotOnline(done.waiting)
    if code is ExitCode.DONE and done.parked:
        code = ExitCode.REFUSED
    if code is not ExitCode.DONE:
        console.end(code)


def withdraw(
    report_id: Annotated[str, typer.Argument(metavar="REPORT_ID", help="Whole, or a piece.")],
    yes: Annotated[bool, typer.Option("--yes", "-y", help="Don't ask first.")] = False,
) -> None:
    """Take a report of yours back, for good.

    One that was not sent yet is thrown away.
    """
    from mendpool_field.outbox import Outbox

    known = console.settings()
    box = Outbox(known.home)
    wanted = box.report_known_as(report_id)
    if not yes and sys.stdin.isatty() and not console.wants_yes(f"Take back {wanted}?"):
        console.talk("It stays.")
        return
    queued = any(entry.id == wanted for entry in box.entries())
    if known.service is not None or not queued:
        # Even one that waits may have reached the service when the answer was lost.
        console.open_gateway(known).withdraw(wanted, may_lack=queued)
    box.forget_sent(wanted)
    console.talk(f"Withdrawn: {wanted}.")


def _reasons(
    outbox: "Outbox", parked: Sequence[tuple["Entry", Exception]]
) -> list[tuple["Entry", str]]:
    known = {entry.id: entry.reason or "" for entry in outbox.entries()}
    return [(entry, known.get(entry.id, "")) for entry, _ in parked]


COMMANDS: Sequence[Any] = (join, sync, withdraw)
