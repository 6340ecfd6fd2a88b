"""Take in a file of reports: a line each, bad ones told by number and left out.

Lines are made ready in chunks, by as many processes as there are, and each chunk is kept in
one transaction, in the order of the file. What is there already is known by its id and the
hash of its line, and is not made ready again; so the same command, run again after whatever
ended the first, goes on where that one stopped.
"""

import codecs
import time
from collections.abc import Callable, Generator, Iterable, Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass, field
from datetime import datetime
from itertools import islice
from typing import Any, BinaryIO
from uuid import UUID

from mendpool.core.catalogue.typed import typed
from mendpool.core.errors import MendpoolError, RefusedInput, Withdrawn
from mendpool.core.record.report import Followup, Report
from mendpool.core.record.strict_json import NotStrictJson, read_object
from mendpool.store.values import HeldFollowup, Member, NewFollowup, NewReport
from mendpool.usecases.bulk_out import given_out
from mendpool.usecases.file_report import new_report
from mendpool.usecases.follow_up import prepared_followup
from mendpool.usecases.workplace import Workplace, sameness

CHUNK = 200
"""Lines a transaction: other writers wait for one, some 20 ms."""
_LONGEST = 1_000_000
_TOLD_EVERY_S = 2.0
_NOT_OF_THE_REPORT = ("id", "received", "contributor", "followups")
_NOT_OF_THE_FOLLOWUP = (
    "id",
    "report",
    "received",
    "contributor",
    "removed",
    "advice",
    "cautions",
)
_UUID_7 = 7
_TAKEN_BACK = "its report was taken back; remove the line"
_ANOTHER = "this id stands for another report; give it a new id"

Tell = Callable[[str], None]
Lines = Sequence[tuple[int, bytes]]
"""Some lines of a file, each with its number."""


@dataclass(slots=True)
class Ready:
    """What a chunk comes to.

    Args:
        reports: to be kept with their follow-ups, each with the number of its line.
        more: follow-ups of reports that are there already.
        unchanged: how many reports are there already.
        wrong: number of each bad line, and what is wrong with it.
        last: number of the last line.
    """

    reports: list[tuple[int, NewReport, Sequence[NewFollowup]]] = field(default_factory=list)
    more: list[NewFollowup] = field(default_factory=list)
    unchanged: int = 0
    wrong: list[tuple[int, str]] = field(default_factory=list)
    last: int = 0


@dataclass(slots=True)
class Imported:
    """What became of the lines."""

    new: int = 0
    unchanged: int = 0
    left_out: int = 0
    followups: int = 0


@dataclass(frozen=True, slots=True)
class _Line:
    number: int
    id: UUID
    body: dict[str, Any]
    followups: tuple[tuple[UUID, dict[str, Any]], ...]


class _BadLineError(ValueError):
    pass


MakeReady = Callable[[Iterable[Lines]], Generator[Ready, None, None]]


def import_lines(
    place: Workplace,
    lines: Iterable[bytes],
    now: datetime,
    tell: Tell,
    ready: MakeReady,
) -> Imported:
    """File the reports of JSON Lines, with their follow-ups, a transaction a chunk.

    Each line is a report as the API takes it, with its `id`, and its `followups` as an
    export gives them. What is there already is not touched.

    Args:
        place: where they are filed.
        tell: hears how far it is and what is wrong with a line.
        ready: makes chunks ready, in order; see `make_ready`.
    """
    done = Imported()
    began = said = time.monotonic()
    # Closed at once whatever happens here, so that no process goes on alone.
    with closing(ready(_chunks(lines))) as chunks:
        for chunk in chunks:
            _keep(place, chunk, now, tell, done)
            if time.monotonic() - said >= _TOLD_EVERY_S:
                said = time.monotonic()
                tell(_so_far(done, chunk.last, said - began))
    return done


def lines_of(file: BinaryIO) -> Iterator[bytes]:
    """Yield the lines of a file; of one that is too long for a report, only its beginning."""
    while line := file.readline(_LONGEST + 1):
        yield line
        while len(line) > _LONGEST and not line.endswith(b"\n"):
            line = file.readline(_LONGEST + 1)


def make_ready(place: Workplace, member: Member, now: datetime, chunk: Lines) -> Ready:
    """Check, scrub and derive what of a chunk is not there yet; keeps nothing."""
    ready = Ready(last=chunk[-1][0])
    read: list[_Line] = []
    for number, text in chunk:
        try:
            read.append(_read(number, text))
        except _BadLineError as error:
            ready.wrong.append((number, str(error)))
    held = place.store.held([line.id for line in read])
    followed = place.store.held_followups([name for line in read for name, _ in line.followups])
    for line in read:
        try:
            _add(place, member, now, line, held.get(line.id), followed, ready)
        except RefusedInput as error:
            ready.wrong.append((line.number, _plainly(error)))
        except _BadLineError as error:
            ready.wrong.append((line.number, str(error)))
    return ready


def _add(  # noqa: PLR0913, PLR0917 - one argument for each part of the sentence
    place: Workplace,
    member: Member,
    now: datetime,
    line: _Line,
    there: tuple[int, str | None] | None,
    followed: dict[UUID, HeldFollowup],
    ready: Ready,
) -> None:
    if there is not None and there[1] is None:
        raise _BadLineError(_TAKEN_BACK)
    given_out_so = (
        _given_out_so(place, line)
        if there is not None and there != (member.id, sameness(place, line.body))
        else set()
    )
    followups = list(_new_followups(place, member, now, line, followed, given_out_so))
    if there is None:
        report = typed(Report, line.body)
        new = new_report(place, member, line.id, line.body, report, now)
        ready.reports.append((line.number, new, followups))
    else:
        ready.unchanged += 1
        ready.more += followups


def _given_out_so(place: Workplace, line: _Line) -> set[UUID]:
    """The follow-ups of a line that this pool itself gave out, scrubbed, whoever sent it."""
    stored = place.store.get_reports([line.id])
    if not stored:
        raise _BadLineError(_TAKEN_BACK)  # this very moment
    held = given_out(stored[0])
    if line.body != {n: value for n, value in held.items() if n not in _NOT_OF_THE_REPORT}:
        raise _BadLineError(_ANOTHER)
    told = {one["id"]: _own(one) for one in held["followups"]}
    return {name for name, body in line.followups if told.get(str(name)) == body}


def _new_followups(
    place: Workplace,
    member: Member,
    now: datetime,
    line: _Line,
    followed: dict[UUID, HeldFollowup],
    given_out_so: set[UUID],
) -> Iterator[NewFollowup]:
    for number, (name, body) in enumerate(line.followups):
        if name in given_out_so:
            continue
        try:
            same = sameness(place, body)
            held = followed.get(name)
            if held == HeldFollowup(line.id, member.id, same):
                continue
            if held is not None:
                raise _BadLineError(f"followup {number + 1}: its id stands for another one")
            kept = prepared_followup(place, typed(Followup, body), now)
        except RefusedInput as error:
            raise _BadLineError(f"followup {number + 1}: {_plainly(error)}") from None
        yield NewFollowup(name, line.id, member.id, same, kept)


def _keep(place: Workplace, chunk: Ready, now: datetime, tell: Tell, done: Imported) -> None:
    wrong = list(chunk.wrong)
    if chunk.reports or chunk.more:
        reports = [(report, followups) for _, report, followups in chunk.reports]
        put = place.store.put_bulk(reports, chunk.more, now)
        for (number, _, _), outcome in zip(chunk.reports, put.reports, strict=True):
            if isinstance(outcome, MendpoolError):
                # Filed since it was made ready, or another line of the file has its id.
                gone = isinstance(outcome, Withdrawn)
                wrong.append((number, _TAKEN_BACK if gone else _ANOTHER))
            else:
                done.new += outcome
                done.unchanged += not outcome
        done.followups += put.followed
    done.unchanged += chunk.unchanged
    done.left_out += len(wrong)
    for number, why in sorted(wrong):
        tell(f"line {number} left out: {why}")


def _so_far(done: Imported, last: int, seconds: float) -> str:
    rate = (done.new + done.unchanged) / seconds
    says = f"line {last}: {done.new} new, {done.unchanged} there already"
    return f"{says}, {done.left_out} left out so far; {rate:.0f} a second"


def _chunks(lines: Iterable[bytes]) -> Iterator[Lines]:
    """Chunks of lines that hold something; always the same ones of the same file."""
    told = ((number, line) for number, line in enumerate(lines, 1) if line.strip())
    while chunk := list(islice(told, CHUNK)):
        yield chunk


def _plainly(error: RefusedInput) -> str:
    return "; ".join(
        f"{c.at or 'report'}: {c.says}"
        + (f" (did you mean {c.did_you_mean}?)" * bool(c.did_you_mean))
        for c in error.errors
    )


def _read(number: int, line: bytes) -> _Line:
    if len(line) > _LONGEST:
        raise _BadLineError("longer than a report can be; one report a line")
    try:
        body = read_object(line.removeprefix(codecs.BOM_UTF8))
    except NotStrictJson as error:
        said = str(error).removeprefix("The body ").rstrip(".")
        raise _BadLineError(f"{said[:1].lower()}{said[1:]}; one object a line") from None
    followups = body.get("followups") or []
    if not isinstance(followups, list) or not all(isinstance(f, dict) for f in followups):
        raise _BadLineError("`followups` must be a list of objects")
    return _Line(
        number,
        _id(body, "`id`"),
        {name: value for name, value in body.items() if name not in _NOT_OF_THE_REPORT},
        tuple((_id(one, "a follow-up's `id`"), _own(one)) for one in followups),
    )


def _own(followup: dict[str, Any]) -> dict[str, Any]:
    return {n: value for n, value in followup.items() if n not in _NOT_OF_THE_FOLLOWUP}


def _id(body: dict[str, Any], name: str) -> UUID:
    given = body.get("id")
    try:
        found = UUID(given) if isinstance(given, str) else None
    except ValueError:
        found = None
    if found is None or found.version != _UUID_7:
        raise _BadLineError(f"{name} is needed: a UUIDv7")
    return found
