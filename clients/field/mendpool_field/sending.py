"""Keep first, then send: what `report`, `followup` and `sync` do alike."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

from mendpool_field import console
from mendpool_field.errors import (
    NO_ANSWER,
    FieldError,
    NoPool,
    NotOnline,
    NotSignedIn,
    Refused,
)
from mendpool_field.exitcodes import ExitCode
from mendpool_field.flush import Flushed, flush
from mendpool_field.settings import Settings

if TYPE_CHECKING:
    from mendpool.core.privacy.photo import Photo
    from mendpool_field.flush import Patience
    from mendpool_field.gateway import Gateway
    from mendpool_field.outbox import Entry, Outbox

PREVIEW_S = 3.0
"""The longest wait before the member sees what would be sent; without an answer it is
shown as it is."""
_NO_PREVIEW = frozenset({404, 405})


@dataclass(frozen=True, slots=True)
class Sending:
    """How to send and tell.

    Args:
        trouble: why nothing can be sent now, where that is known already.
        require_online: waiting is not good enough.
        as_json: tell the result as JSON.
        one_line: and that on one line, as everything a session tells.
        report_id: the id of a report that was given one already; None to make one.
        photos: what goes with a report.
        kept: called once it is in the outbox, before anything is sent.
    """

    trouble: FieldError | None = None
    require_online: bool = False
    as_json: bool = False
    one_line: bool = False
    report_id: str | None = None
    photos: Sequence["Photo"] = ()
    kept: Callable[[], None] = lambda: None


def previewed(
    known: Settings, body: Mapping[str, Any], kept_home: Sequence[str], *, as_json: bool
) -> FieldError | None:
    """Check a report and show what will be sent, less what names anyone.

    The service says once more what it would take out, if it answers.

    Returns:
        Why the service did not answer, None if it did.

    Raises:
        RefusedInput, Refused: it can't be used as it is.
    """
    from mendpool.core.record.report import Report
    from mendpool_field.checking import check_whole_report, typed
    from mendpool_field.render_reports import removed_text, report_text
    from mendpool_field.scrubbing import both, scrubbed_here

    typed(Report, body)
    body, here = scrubbed_here(known, body)
    answer, trouble = _preview_there(known, body)
    if answer is None:
        check_whole_report(body, console.catalogue(known))
    width = console.width()
    report = answer.get("report") if answer is not None else body
    shown = report if isinstance(report, Mapping) else body
    tell = console.talk_as_is if as_json else console.say
    tell(report_text(shown, width, title="THIS WILL BE SENT"))
    removed = removed_text(both(here, answer and answer.get("removed")), width)
    if removed:
        tell(removed)
    if answer is None:
        console.talk(
            "No pool was joined yet." if isinstance(trouble, NoPool) else _says(trouble)
        )
    if kept_home:
        names = ",".join(kept_home)
        console.talk(f"Stays here: {names.replace(',', ', ')} (--share {names} sends it too).")
    return trouble


def keep_and_send(
    known: Settings,
    kind: Literal["report", "followup"],
    report_id: str | None,
    body: Mapping[str, Any],
    how: Sending,
) -> None:
    """Keep a body in the outbox, say so, and send what waits; ends with the exit code.

    `report_id` is the report that a follow-up belongs to, None for a report.
    """
    from mendpool_field.compose import body_text
    from mendpool_field.outbox import Entry, Outbox
    from mendpool_field.photographs import photo_entry
    from mendpool_field.scrubbing import scrubbed_here

    outbox = Outbox(known.home)
    body, _ = scrubbed_here(known, body)
    new_id = how.report_id or console.new_id()
    entry = Entry(new_id, kind, report_id or new_id, body_text(body))
    photos = [photo_entry(console.new_id(), entry.id, photo) for photo in how.photos]
    outbox.save_with_photos(entry, photos)
    how.kept()
    send_kept(known, outbox, entry, body, how)


def send_kept(
    known: Settings, outbox: "Outbox", entry: "Entry", body: Mapping[str, Any], how: Sending
) -> None:
    """Say that an entry is kept, and send what waits; ends with the exit code."""
    console.talk(f"Saved as {entry.id}.")
    if how.trouble is None:
        flushed = send_waiting(known, outbox)
    else:
        flushed = Flushed(waiting=len(outbox.waiting()), trouble=how.trouble)
        if known.service is not None:  # `outbox` sees for itself that no pool was joined
            _keep_why(known, how.trouble)
    state = _state_of(entry, flushed)
    if how.as_json:
        told = {"id": entry.id, "report": entry.report, "state": state, "body": body}
        console.say_json(
            {"say": "kept", **told} if how.one_line else told, one_line=how.one_line
        )
    _end(entry, flushed, state, how)


def send_waiting(
    known: Settings, outbox: "Outbox", patience: "Patience | None" = None
) -> Flushed:
    """Send everything that waits.

    Args:
        known: where to.
        outbox: what waits.
        patience: how a service that fails or asks to wait is tried again; None not at all.

    Raises:
        NoPool: there is nowhere to send it.
    """
    from mendpool_field.explain import explain

    gateway = console.open_gateway(known)
    outbox.tidy(console.now_s())

    def send(entry: "Entry") -> None:
        if entry.kind != "photo":
            gateway.send(entry)
            return
        jpeg = outbox.photo_bytes(entry)
        if jpeg is None:
            raise Refused(0, "The photograph kept here is damaged", "", ())
        gateway.send_photo(entry, jpeg)

    done = flush(
        outbox,
        send,
        lambda refused: explain(refused).says,
        patience,
        _pool_at(known, gateway.url),
    )
    if not done.busy:
        _keep_why(known, done.trouble)
    if done.trouble is None:
        tell_words(known, gateway)
    return done


def _keep_why(known: Settings, trouble: FieldError | None) -> None:
    from mendpool_field.explain import explain
    from mendpool_field.not_sent import NotSent, keep_why

    why = None if trouble is None else NotSent(explain(trouble).says, console.now_s())
    keep_why(known.home, why)


def tell_words(known: Settings, gateway: "Gateway") -> FieldError | None:
    """Tell the pool the words that its stewards may see; return what was in the way.

    Nobody waits for it and nothing is lost: it is tried again with the next that is sent.
    """
    from mendpool_field.kept_words import is_told, tell

    if is_told(known.home):
        return None
    try:
        tell(known.home, gateway)
    except (*NO_ANSWER, NotSignedIn, Refused) as trouble:
        return trouble
    return None


def _pool_at(known: Settings, url: str) -> str | None:
    """The id of the pool at an address, as the copy knows it."""
    from mendpool_field.copy_place import CopyPlace

    state = CopyPlace(known.home).state()
    return state.pool if state is not None and state.url == url else None


def trouble_code(trouble: FieldError | None, *, require_online: bool) -> ExitCode:
    """Return the exit code when things wait on: queued is not failed."""
    if isinstance(trouble, NotSignedIn):
        return ExitCode.NOT_SIGNED_IN
    if isinstance(trouble, Refused):
        return ExitCode.REFUSED
    return ExitCode.NOT_ONLINE if require_online else ExitCode.DONE


def tell_trouble(trouble: FieldError | None) -> None:
    """Say why things wait, and what to do."""
    if trouble is None:
        return
    from mendpool_field.explain import explain

    told = explain(trouble)
    console.talk(told.says)
    if isinstance(trouble, NotSignedIn | Refused):
        console.talk(f"Next: {told.do}")


def _preview_there(
    known: Settings, body: Mapping[str, Any]
) -> tuple[dict[str, Any] | None, FieldError | None]:
    """Ask the service; without an answer say why, unless it only knows no previews."""
    if known.service is None:
        return None, NoPool()
    from mendpool_field.gateway import within

    gateway = console.open_gateway(known)
    try:
        return within(PREVIEW_S, lambda: gateway.preview(body)), None
    except (*NO_ANSWER, NotSignedIn) as trouble:
        return None, trouble
    except Refused as refused:
        if refused.status not in _NO_PREVIEW:
            raise
        return None, None


def _says(trouble: FieldError | None) -> str:
    from mendpool_field.explain import explain

    return explain(trouble).says if trouble is not None else "This pool shows no preview."


def _state_of(entry: "Entry", flushed: Flushed) -> str:
    if any(sent.id == entry.id for sent in flushed.sent):
        return "sent"
    return "parked" if any(held.id == entry.id for held, _ in flushed.parked) else "waiting"


def _end(entry: "Entry", flushed: Flushed, state: str, how: Sending) -> None:
    if state == "sent":
        console.talk("Sent. Thank you.")
        for held, refused in flushed.parked:
            if held.kind == "photo" and held.report == entry.id:
                console.talk(f"A photograph of it was set aside: {_says(refused)}")
        if flushed.waiting:
            console.talk(f"{flushed.waiting} more waiting; mendpool outbox shows them.")
        return
    if state == "parked":
        raise next(refused for held, refused in flushed.parked if held.id == entry.id)
    _tell_waiting(entry, flushed, how)
    code = trouble_code(flushed.trouble, require_online=how.require_online)
    if code is ExitCode.NOT_ONLINE:
        raise NotOnline(flushed.waiting)
    if code is not ExitCode.DONE:
        console.end(code)


def _tell_waiting(entry: "Entry", flushed: Flushed, how: Sending) -> None:
    if how.trouble is None:
        tell_trouble(flushed.trouble)
    if flushed.busy:
        console.talk("Another mendpool is sending at this moment; it waits its turn.")
    if isinstance(flushed.trouble, Refused):
        console.talk(f"It waits here; mendpool outbox --drop {entry.id} throws it away.")
    else:
        unjoined = isinstance(flushed.trouble, NoPool | NotSignedIn)
        first = "mendpool join URL, then " if unjoined else ""
        console.talk(f"It waits here, safely. {first}mendpool sync sends it.")
