"""Every error in one sentence, what to do next, and the exit code: the only such place."""

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

from mendpool.core.errors import (
    CatalogueError,
    Complaint,
    MendpoolError,
    RefusedInput,
)
from mendpool_field.errors import (
    AnotherPool,
    BadUsage,
    DamagedFile,
    FieldError,
    NewerFile,
    NoPool,
    NoRoom,
    NotMendpool,
    NotOnline,
    NotSignedIn,
    Refused,
    ServiceFailed,
    TooMany,
    Unreachable,
)
from mendpool_field.exitcodes import ExitCode

_MOST = 8
_PARTS = {
    "readings": "reading",
    "observations": "what was seen",
    "attempts": "attempt",
    "tried": "attempt",
    "symptoms": "symptom",
    "causes": "cause",
    "machine": "nameplate",
    "happened": "month",
}
_NEXT_OF_STATUS: Mapping[int, str] = {
    400: "Nothing was kept. If you wrote the file yourself, check that it is one JSON object.",
    403: "Only the one who sent a report, or a steward, may change it. Ask your steward.",
    404: "Check the id; mendpool find lists the reports that are there.",
    409: "Write it again as a new report: mendpool report",
    410: "Nothing more can be added to it; mendpool find shows what is there.",
    413: "Shorten the note and the complaint, or leave some readings out, and send it again.",
}


@dataclass(frozen=True, slots=True)
class Explained:
    """An error for a person: `says` in a sentence, what to `do` next, and the exit code."""

    says: str
    do: str
    code: ExitCode


def explain(error: Exception) -> Explained:
    """Return what to tell a person; a thing nobody foresaw is our fault."""
    for kind, words in _WORDS:
        if isinstance(error, kind):
            return words(error)
    if isinstance(error, OSError):
        return _of_disk(error)
    return Explained(
        f"This is a fault in mendpool itself ({type(error).__name__}).",
        "Run it again as mendpool --traceback ... and show your steward what it prints.",
        ExitCode.OUR_FAULT,
    )


def complaint_lines(complaints: Iterable[Complaint]) -> list[str]:
    """Return a sentence for each complaint, with the place in plain words."""
    return [_complaint(complaint) for complaint in complaints]


def _complaint(complaint: Complaint) -> str:
    place = _place(complaint.at)
    says = complaint.says.removesuffix("; see did_you_mean").strip().rstrip(".")
    meant = f" Did you mean {complaint.did_you_mean}?" if complaint.did_you_mean else ""
    stop = "" if says.endswith("?") else "."
    said = f"{place}: {says}" if place else f"{says[:1].upper()}{says[1:]}"
    return f"{said}{stop}{meant}"


def _place(pointer: str) -> str:
    """Turn ``/readings/0/unit`` into ``Reading 1, unit``."""
    words: list[str] = []
    for part in [p for p in pointer.split("/") if p]:
        if part.isdigit() and words:
            words[-1] = f"{words[-1]} {int(part) + 1}"
        else:
            words.append(_PARTS.get(part, part.replace("_", " ")))
    place = re.sub(r"\s+", " ", ", ".join(words))
    return place[:1].upper() + place[1:]


def _refused_input(error: RefusedInput) -> Explained:
    return _with_complaints("That can't be used.", error.errors)


def _with_complaints(lead: str, complaints: Sequence[Complaint]) -> Explained:
    lines = complaint_lines(complaints)
    if len(lines) == 1:
        says = lines[0]
    else:
        more = [f"and {len(lines) - _MOST} more"] if len(lines) > _MOST else []
        says = "\n  ".join([lead, *lines[:_MOST], *more])
    return Explained(says, "Change that and give the same command again.", ExitCode.REFUSED)


def _refused(error: Refused) -> Explained:
    if error.errors:
        return _with_complaints("The pool can't use it as it is.", error.errors)
    title = error.title.strip().rstrip(".") or "The pool refuses this"
    says = f"{title}: {error.detail}" if error.detail else f"{title}."
    default = "Change it and give the same command again."
    return Explained(says, _NEXT_OF_STATUS.get(error.status, default), ExitCode.REFUSED)


def _bad_usage(error: BadUsage) -> Explained:
    return Explained(error.says, error.do, ExitCode.USAGE)


def _no_pool(_: NoPool) -> Explained:
    return Explained(
        "No pool has been joined from here.",
        "mendpool join URL, with the address and the token that your steward gave you. "
        "Without a pool, mendpool judge and ask --offline still work.",
        ExitCode.NOT_SIGNED_IN,
    )


def _unreachable(error: Unreachable) -> Explained:
    return Explained(
        f"No way through to {error.url}: {error.why}.",
        "Look for signal and try again. Reports are kept, and mendpool judge, codes and "
        "ask --offline work without.",
        ExitCode.NO_SERVICE,
    )


def _not_mendpool(error: NotMendpool) -> Explained:
    return Explained(
        f"What answers at {error.url} is no mendpool (status {error.status}).",
        "If this network has a sign-in page, sign in there first; else check the address "
        "and mendpool join again.",
        ExitCode.NO_SERVICE,
    )


def _service_failed(error: ServiceFailed) -> Explained:
    return Explained(
        f"The pool has a fault of its own (status {error.status}).",
        "Nothing is lost. Try again in a few minutes; if it lasts, tell your steward.",
        ExitCode.NO_SERVICE,
    )


def _too_many(error: TooMany) -> Explained:
    wait = f"{error.wait_s} seconds" if error.wait_s is not None else "a minute"
    return Explained(
        "The pool asks you to slow down.", f"Wait {wait} and try again.", ExitCode.NO_SERVICE
    )


def _not_signed_in(error: NotSignedIn) -> Explained:
    detail = error.detail.strip().rstrip(".") or "The pool does not know this token"
    return Explained(
        f"{detail}.", "mendpool join URL with a good token; your steward makes one.",
        ExitCode.NOT_SIGNED_IN,
    )  # fmt: skip


def _not_online(error: NotOnline) -> Explained:
    return Explained(
        f"Kept but not sent: {error.waiting} waiting.",
        "mendpool sync sends it when there is a way through.",
        ExitCode.NOT_ONLINE,
    )


def _another_pool(error: AnotherPool) -> Explained:
    return Explained(
        f"Your copy is of the pool that was at {error.before}, and {error.url} is another.",
        "mendpool sync --anew drops that copy and fetches this pool's; mendpool join goes "
        "back to the other. What waits in the outbox stays either way.",
        ExitCode.REFUSED,
    )


def _no_room(error: NoRoom) -> Explained:
    needed, free = error.needed / 1e6, error.free / 1e6
    return Explained(
        f"The copy may need {needed:,.0f} MB here, and {free:,.0f} are free.",
        "Make room, or name another folder in MENDPOOL_HOME. The outbox is sent without.",
        ExitCode.OUR_FAULT,
    )


def _damaged(error: DamagedFile) -> Explained:
    return Explained(
        f"{error.path} can't be read: {error.why}.",
        "Mend it in an editor, or move it away and start afresh.",
        ExitCode.OUR_FAULT,
    )


def _newer(error: NewerFile) -> Explained:
    return Explained(
        f"{error.path} was kept by a newer mendpool. It is left as it is.",
        "Use that mendpool again, or bring this one up to date.",
        ExitCode.OUR_FAULT,
    )


def _catalogue(_: CatalogueError) -> Explained:
    return Explained(
        "The trade catalogue of this installation is damaged.",
        "Install mendpool again.",
        ExitCode.OUR_FAULT,
    )


def _core(error: MendpoolError) -> Explained:
    says = str(error).strip() or "That can't be done."
    return Explained(says, "Change it and try again.", ExitCode.REFUSED)


def _of_disk(error: OSError) -> Explained:
    what = error.strerror or type(error).__name__
    where = f" ({error.filename})" if error.filename else ""
    return Explained(
        f"This machine would not let a file be read or written: {what}{where}.",
        "Make room or mend the rights of that folder; MENDPOOL_HOME names another.",
        ExitCode.OUR_FAULT,
    )


_WORDS: tuple[tuple[type[Exception], Callable[..., Explained]], ...] = (
    (BadUsage, _bad_usage),
    (NoPool, _no_pool),
    (Unreachable, _unreachable),
    (NotMendpool, _not_mendpool),
    (ServiceFailed, _service_failed),
    (TooMany, _too_many),
    (NotSignedIn, _not_signed_in),
    (Refused, _refused),
    (NotOnline, _not_online),
    (AnotherPool, _another_pool),
    (NoRoom, _no_room),
    (NewerFile, _newer),
    (DamagedFile, _damaged),
    (RefusedInput, _refused_input),
    (CatalogueError, _catalogue),
    (MendpoolError, _core),
)


def is_explained(kind: type[Exception]) -> bool:
    """Tell whether a kind of error has words of its own (a test walks them all)."""
    return any(issubclass(kind, known) for known, _ in _WORDS) or kind is FieldError
