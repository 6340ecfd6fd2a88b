"""`mendpool join` and `withdraw`: this machine and its pool."""

import sys
from collections.abc import Sequence
from typing import Annotated, Any

import typer

from mendpool_field import console, options
from mendpool_field.errors import BadUsage


def join(
    url: Annotated[str, typer.Argument(metavar="URL", help="The pool's address.")],
) -> None:
    """Join a pool with the token you were given, or with an invitation's code.

    It is asked for, or read from stdin or MENDPOOL_TOKEN. A code is used up and gives a
    token; the token is tried, and kept in a file that only you can read.
    """
    from mendpool_field.settings import (
        Service,
        checked_token,
        checked_url,
        is_code,
        keep_service,
    )

    address = checked_url(url)
    typed = console.environment("MENDPOOL_TOKEN") or console.read_secret("Token or code: ")
    token = checked_token(typed)
    home = console.settings().home
    if is_code(token):
        token = console.open_service(Service(address, None)).use_code(token)
        # Kept before anything else: the code is used up.
        keep_service(home, Service(address, checked_token(token)))
    service = Service(address, token)
    console.open_service(service).check_token()
    keep_service(home, service)
    console.talk(f"Joined {address}.")


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


def kept_words(
    drop: Annotated[
        str | None, typer.Option("--drop", metavar="WORD", help="Let it be taken out again.")
    ] = None,
    share: Annotated[
        bool,
        typer.Option("--share", help="Let your stewards see them: the words, not your name."),
    ] = False,
    as_json: options.Json = False,
) -> None:
    """List the words you put back into reports, and let your stewards see them.

    They are known on this machine only, unless shared; the pool scrubs once more with its
    own list, which its stewards can mend where they know of it.
    """
    from mendpool_field.kept_words import (
        drop_word,
        is_told,
        put_back_words,
        share_words,
        shared_words,
    )

    known = console.settings()
    home = known.home
    if drop is not None and not drop_word(home, drop):
        raise BadUsage(f"“{drop}” was not put back.", "mendpool kept-words lists them.")
    words = put_back_words(home)
    if share:
        share_words(home, words)
    if not is_told(home) and known.service is not None:
        from mendpool_field.sending import tell_trouble, tell_words

        tell_trouble(tell_words(known, console.open_gateway(known)))
    if not is_told(home):
        console.talk("The pool is told at the next mendpool sync.")
    shared = shared_words(home)
    lines = [f"{word} (shared)" if word in shared else word for word in words]
    told = {"words": words, "shared": shared}
    console.show(told, "\n".join(lines) or "None was put back.", as_json=as_json)


COMMANDS: Sequence[Any] = (join, withdraw)
