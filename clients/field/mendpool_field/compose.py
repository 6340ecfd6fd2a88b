"""From what was typed to what is sent: bodies of the wire format, as plain values."""

import json
import re
import shlex
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from mendpool_field.errors import BadUsage

Body = dict[str, Any]
SHARABLE = ("cost", "hours", "region")
"""What stays at home unless the member says otherwise, report by report."""

_NUMBERS = {"minutes", "cost", "wait_days"}
_TEXTS = {"failure", "part", "part_from", "done_by", "fits"}


@dataclass(frozen=True, slots=True)
class Told:
    """What was typed of a set in trouble; every part may be empty.

    Args:
        complaint: in the person's own words.
        symptoms, before, at_hand: codes and items.
        readings: as typed, unit and all.
        saw: ``check=result`` or ``check=result@which``.
        tried: ``component action result`` with ``name=value`` after, if any.
        must_run: kVA, or a load by name.
        get_by: ways to run for now are asked for too.
    """

    complaint: str = ""
    symptoms: Sequence[str] = ()
    readings: Sequence[str] = ()
    saw: Sequence[str] = ()
    tried: Sequence[str] = ()
    before: Sequence[str] = ()
    at_hand: Sequence[str] = ()
    must_run: str | None = None
    get_by: bool = False


@dataclass(frozen=True, slots=True)
class Ended:
    """How a repair ended, as typed; every part may be empty.

    `left` says how a protection that had been out of action was left: proved, untested or
    defeated.
    """

    cause: str | None = None
    outcome: str | None = None
    month: str | None = None
    note: str | None = None
    region: str | None = None
    defeated: bool = False
    left: str | None = None


def question_of(told: Told, plate: Mapping[str, Any], earlier: Mapping[str, Any]) -> Body:
    """Return the body of a question.

    Args:
        told: what was typed.
        plate: the nameplate; hours run are left out, no answer needs them.
        earlier: the question this one goes on from; empty for a new one.

    Raises:
        BadUsage: an observation or an attempt that is not written as it must be.
    """
    body = _case(told, plate, earlier, attempts="tried")
    body["machine"].pop("hours", None)
    for attempt in body.get("tried", ()):
        attempt.pop("cost", None)
    _add(body, "at_hand", told.at_hand)
    if told.must_run:
        kva = re.sub(r"\s*kva$", "", told.must_run.strip(), flags=re.IGNORECASE)
        body["must_run"] = _number(kva) or told.must_run
    # Asked for each time anew: nobody is offered a get-by for having asked once.
    body.pop("get_by", None)
    if told.get_by:
        body["get_by"] = True
    return body


def report_of(
    told: Told, ended: Ended, plate: Mapping[str, Any], earlier: Mapping[str, Any]
) -> Body:
    """Return the body of a report.

    Args:
        told: what was typed of the set.
        ended: what was typed of the end.
        plate: the nameplate.
        earlier: a report from a file, or the question it came from; empty for neither.

    Raises:
        BadUsage: as `question_of`.
    """
    base = dict(earlier)
    if "tried" in base:
        base["attempts"] = [*base.get("attempts", ()), *base.pop("tried")]
    for only_asked in ("at_hand", "must_run", "limit", "get_by"):
        base.pop(only_asked, None)
    body = _case(told, plate, base, attempts="attempts")
    if ended.cause:
        body["cause"] = cause_of(ended.cause)
        body.pop("causes", None)
    for field, value in (
        ("outcome", ended.outcome),
        ("happened", ended.month),
        ("note", ended.note),
        ("region", ended.region),
    ):
        if value:
            body[field] = value
    if ended.left:
        body["protection"] = {**body.get("protection", {}), "left": ended.left}
        body.pop("protection_defeated", None)
    if ended.defeated or ended.left == "defeated":
        body["protection_defeated"] = True
    return body


def followup_of(state: str, month: str, hours_run: float | None, note: str | None) -> Body:
    """Return the body of a follow-up."""
    body: Body = {"happened": month, "state": state}
    if hours_run is not None:
        body["hours_run"] = hours_run
    if note:
        body["note"] = note
    return body


def without_unshared(report: Mapping[str, Any], share: Iterable[str]) -> tuple[Body, list[str]]:
    """Leave out what is not shared.

    Returns:
        The report without it, and the names of what was there and stays at home.
    """
    body: Body = json.loads(json.dumps(report))
    kept: list[str] = []
    shared = set(share)
    machine, attempts = body.get("machine"), body.get("attempts")
    costly = [a for a in attempts if isinstance(a, dict) and "cost" in a] if isinstance(
        attempts, list) else []  # fmt: skip
    if "cost" not in shared and costly:
        for attempt in costly:
            attempt.pop("cost")
        kept.append("cost")
    if "hours" not in shared and isinstance(machine, dict) and "hours" in machine:
        machine.pop("hours")
        kept.append("hours")
    if "region" not in shared and body.pop("region", None) is not None:
        kept.append("region")
    return body, kept


def shared_of(typed: str | None) -> tuple[str, ...]:
    """Return what ``--share`` names.

    Raises:
        BadUsage: something that can't be shared or held back.
    """
    names = tuple(n.strip().lower() for n in (typed or "").split(",") if n.strip())
    for name in names:
        if name not in SHARABLE:
            raise BadUsage(
                f"“{name}” is nothing that --share knows.",
                f"It takes {', '.join(SHARABLE)}, with commas between.",
            )
    return names


def given_openly(region: str | None, tried: Iterable[str]) -> tuple[str, ...]:
    """Return what was typed in the very command, which is as good as ticked."""
    cost = any(re.search(r"(?:^|\s)cost=", typed) for typed in tried)
    return (*(("cost",) if cost else ()), *(("region",) if region else ()))


def body_text(body: Mapping[str, Any]) -> str:
    """Return the JSON text that is kept and sent, always the same for the same body."""
    return json.dumps(body, ensure_ascii=False, sort_keys=True, separators=(",", ":"))


def seen_of(typed: str) -> Body:
    """Return an observation from ``check=result`` or ``check=result@which``.

    Raises:
        BadUsage: it is written otherwise.
    """
    found = re.fullmatch(r"\s*([^=@\s]+)\s*=\s*([^=@\s]+)\s*(?:@\s*([^=@\s]+)\s*)?", typed)
    if found is None:
        raise BadUsage(
            f"“{typed}” is no check with its result.",
            "Write --saw CHECK=RESULT, such as --saw fuel-at-tank=none; mendpool codes checks "
            "lists them.",
        )
    seen: Body = {"check": found[1], "found": found[2]}
    if found[3]:
        seen["which"] = int(found[3]) if found[3].isdigit() else found[3]
    return seen


def attempt_of(typed: str) -> Body:
    """Return an attempt from ``component action result`` and ``name=value`` after it.

    Raises:
        BadUsage: it is written otherwise.
    """
    how = (
        'Write --tried "COMPONENT ACTION RESULT", such as --tried "avr replace no-change"; '
        "minutes=40, cost=60, failure=worn and part='brush block' may follow."
    )
    try:
        words = shlex.split(typed)
    except ValueError:
        words = []
    plain = [word for word in words if "=" not in word]
    if len(plain) != 3:
        raise BadUsage(f"“{typed}” is no attempt with its result.", how)
    attempt: Body = dict(zip(("component", "action", "result"), plain, strict=True))
    for word in words:
        name, mark, value = word.partition("=")
        if mark:
            attempt[name.replace("-", "_")] = _of_attempt(name.replace("-", "_"), value, how)
    return attempt


def cause_of(typed: str) -> Body:
    """Return a cause from ``component/failure`` or ``component`` alone.

    Raises:
        BadUsage: it is written otherwise.
    """
    parts = [part.strip() for part in typed.split("/")]
    if not all(parts) or len(parts) > 2:
        raise BadUsage(
            f"“{typed}” is no cause.", "Write --cause COMPONENT/FAILURE, such as brushes/worn."
        )
    return dict(zip(("component", "failure"), parts, strict=False))


def _case(
    told: Told, plate: Mapping[str, Any], earlier: Mapping[str, Any], *, attempts: str
) -> Body:
    body: Body = json.loads(json.dumps(earlier))
    machine = body.get("machine")
    body["machine"] = {**(machine if isinstance(machine, dict) else {}), **plate}
    if told.complaint:
        body["complaint"] = told.complaint
    _add(body, "symptoms", told.symptoms)
    _add(body, "readings", [{"text": reading} for reading in told.readings])
    _add(body, "observations", [seen_of(saw) for saw in told.saw])
    _add(body, attempts, [attempt_of(tried) for tried in told.tried])
    _add(body, "before", told.before)
    return body


def _add(body: Body, field: str, more: Sequence[Any]) -> None:
    """Put more into a list; the same said again stays once, an attempt may be made twice."""
    held = body.get(field)
    held = held if isinstance(held, list) else []
    new = [m for m in more if field in {"attempts", "tried"} or m not in held]
    if field == "observations":
        # The same thing looked at again: the newer look counts.
        looked = {(m["check"], m.get("which")) for m in new}
        held = [h for h in held if (h.get("check"), h.get("which")) not in looked]
    if held or new:
        body[field] = [*held, *new]


def _of_attempt(name: str, value: str, how: str) -> object:
    if name in _TEXTS:
        return value
    if name == "with_next":
        return value.lower() in {"yes", "true", "1"}
    number = _number(value)
    if name not in _NUMBERS or number is None:
        raise BadUsage(f"“{name}={value}” says nothing of an attempt that is known here.", how)
    return number


def _number(typed: str) -> float | None:
    try:
        number = float(typed.replace(",", "."))
    except ValueError:
        return None
    return number if abs(number) < 1e9 else None
