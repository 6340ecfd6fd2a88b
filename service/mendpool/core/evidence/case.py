"""A report in the derived form that search and diagnosis work on."""

import json
from collections.abc import Collection, Mapping
from typing import NamedTuple

from pydantic_core import from_json

from mendpool.core.evidence.getting_by import only_gets_by


class Tried(NamedTuple):
    """One attempt of a case. `shared` is how many things were done together with it."""

    component: str
    action: str
    failure: str | None
    result: str
    shared: int
    minutes: float | None
    cost: float | None


class Seen(NamedTuple):
    """A follow-up: months after the repair, and what was seen."""

    months: int
    state: str


class Healthy(NamedTuple):
    """A good reading of a case: of a well set, or as a repair left it.

    Args:
        keys: what it can be compared under, the closest first (its model, then its kind).
        value: canonical, or as a share of the plate's figure, taken to a common temperature.
    """

    keys: tuple[str, ...]
    value: float


class Case(NamedTuple):
    """What of a report diagnosis learns from. No free text, no place, no name.

    Args:
        id: the report's id.
        group: opaque number of its contributor.
        vouched: whether that member counts fully.
        kind: the set, by machine field.
        terms: canonical terms (see `diagnosis.terms`).
        symptoms: codes, by the reporter or found in the complaint.
        found: ``check=result`` of observations and judged readings, as found.
        causes: ``component/failure`` or ``component``, as reported.
        attempts: in order.
        outcome: code.
        defeated: a protection was left defeated.
        words: words of the complaint that the catalogue does not know.
        happened: the month, ``YYYY-MM``.
        followups: in order of time.
        healthy: readings of it when nothing was wrong.
        advice: what in it could kill whoever copies it, as codes.
    """

    id: str
    group: int
    vouched: bool
    kind: Mapping[str, str | int]
    terms: tuple[str, ...]
    symptoms: tuple[str, ...]
    absent: tuple[str, ...]
    found: tuple[str, ...]
    causes: tuple[str, ...]
    attempts: tuple[Tried, ...]
    outcome: str
    defeated: bool
    words: tuple[str, ...]
    happened: str | None = None
    followups: tuple[Seen, ...] = ()
    healthy: tuple[Healthy, ...] = ()
    advice: tuple[str, ...] = ()


def case_to_text(case: Case) -> str:
    """Return the case as JSON, without what the store adds (group, vouched, follow-ups)."""
    body = case._asdict()
    for added in ("group", "vouched", "followups"):
        del body[added]
    return json.dumps(body, ensure_ascii=False, separators=(",", ":"))


def case_from_text(
    text: str, *, group: int, vouched: bool, followups: tuple[Seen, ...] = ()
) -> Case:
    """Read a case back, with what the store knows of it."""
    body = from_json(text)
    return Case(
        id=body["id"],
        group=group,
        vouched=vouched,
        kind=body["kind"],
        terms=tuple(body["terms"]),
        symptoms=tuple(body["symptoms"]),
        absent=tuple(body["absent"]),
        found=tuple(body["found"]),
        causes=tuple(body["causes"]),
        attempts=tuple(Tried(*attempt) for attempt in body["attempts"]),
        outcome=body["outcome"],
        defeated=body["defeated"],
        words=tuple(body["words"]),
        happened=body.get("happened"),
        followups=followups,
        healthy=tuple(Healthy(tuple(k), v) for k, v in body.get("healthy", ())),
        advice=tuple(body.get("advice", ())),
    )


def months_later(happened: str | None, followup_month: str, state: str) -> Seen:
    """Return a follow-up as months after the repair; 0 where the repair's month is unknown."""
    if happened is None:
        return Seen(0, state)
    return Seen(max(0, _months(followup_month) - _months(happened)), state)


def _months(month: str) -> int:
    year, number = month.split("-")
    return int(year) * 12 + int(number)


def cured_by(case: Case, protections: Collection[str]) -> tuple[Tried, ...]:
    """Return the attempts that cured: those with result `fixed`.

    Get-bys are not among them: a set left with a protection defeated is not cured.

    Args:
        case: any case.
        protections: codes of components whose removal is a get-by.
    """
    if case.defeated:
        return ()
    return tuple(
        [
            a
            for a in case.attempts
            if a.result == "fixed" and not only_gets_by(a.component, a.action, protections)
        ]
    )


def is_cured(case: Case, protections: Collection[str]) -> bool:
    """Tell whether any attempt cured, as `cured_by`."""
    if case.defeated:
        return False
    for a in case.attempts:
        if a.result == "fixed" and not only_gets_by(a.component, a.action, protections):
            return True
    return False


def components_at_fault(case: Case, protections: Collection[str]) -> tuple[str, ...]:
    """Return what was at fault: as reported, else what the cure was done to.

    Args:
        case, protections: as for `cured_by`.
    """
    if case.causes:
        return tuple(dict.fromkeys(cause.split("/", 1)[0] for cause in case.causes))
    return tuple(dict.fromkeys(attempt.component for attempt in cured_by(case, protections)))
