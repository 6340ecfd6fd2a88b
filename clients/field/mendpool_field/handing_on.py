"""The half page to read down the phone: what was found, tested and ruled out at a set."""

from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool_field.asked import NO_SET, last_asked_about, last_question, name_of
from mendpool_field.layout import (
    clean,
    figure,
    items,
    number,
    pages,
    para,
    part,
    section,
    share,
    texts,
    words,
)
from mendpool_field.render_reports import plate_line
from mendpool_field.session_bodies import question_from
from mendpool_field.sessions import Sessions

Body = dict[str, Any]
_WAS, _NOW = 0.05, 0.01
"""A cause is called ruled out that the complaint alone made at least so likely, and all that
was found since makes less likely than this."""
_LIKELIEST = 3
_NOT_THE_FAULT = frozenset({"found-good", "no-change"})


def handed_on(
    home: Path,
    on: str | None,
    catalogue: Catalogue,
    answer: Callable[[Mapping[str, Any]], Body],
) -> Body:
    """Return what is told: the session walked at a set, else the last question about it.

    Args:
        home: the member's folder.
        on: the set's name; None for the one asked about last.
        catalogue: its words.
        answer: answers a question here, without the pool.

    Raises:
        BadUsage: nothing was asked about it yet.
    """
    name = name_of(on) if on else (last_asked_about(home) or NO_SET)
    session = Sessions(home).of(name)
    if session is not None and not session.is_empty:
        question = question_from(session)
        skipped = [words(e["step"][1]) for e in session.of("skip")]
    else:
        question, skipped = last_question(home, on), []
    at_first = {
        field: question[field]
        for field in ("machine", "complaint", "symptoms", "before")
        if question.get(field)
    }
    now = answer(question)
    told = answer(at_first) if len(at_first) > 1 else now
    return {
        "set": "" if name == NO_SET else name,
        "question": question,
        "skipped": skipped,
        "readings": now.get("readings", []),
        "likeliest": items(now, "causes")[:_LIKELIEST],
        "ruled_out": _ruled_out(told, now),
        "looked_at": _looks(question, catalogue),
        "cautions": items(now, "cautions")[:2],
    }


def handed_on_text(found: Mapping[str, Any], width: int) -> str:
    """Return it as text, short enough to be read aloud."""
    question = part(found, "question")
    name = clean(found.get("set"))
    plate = plate_line(part(question, "machine"))
    said = [clean(question.get("complaint")), *(words(s) for s in texts(question, "symptoms"))]
    readings = [line for r in items(found, "readings") for line in _reading(r, width)]
    blocks = (
        ("MEASURED", readings),
        ("LOOKED AT", _dashes(texts(found, "looked_at"), width)),
        ("TRIED", _dashes([_attempt(a) for a in items(question, "tried")], width)),
        ("LEFT OUT", _dashes(texts(found, "skipped"), width)),
        ("RULED OUT", _dashes(_cleared(found), width)),
        ("LIKELIEST NOW", _dashes(_likeliest(found), width)),
        ("TAKE CARE", _dashes([clean(c.get("says")) for c in items(found, "cautions")], width)),
    )
    return pages(
        [
            section(
                f"HAND ON{': ' + name if name else ''}",
                [
                    *_row("The set", plate or "its plate was not given", width),
                    *_row("It does", "; ".join(s for s in said if s), width),
                    *_row(
                        "Before", "; ".join(words(b) for b in texts(question, "before")), width
                    ),
                ],
            ),
            *(section(title, lines) for title, lines in blocks),
        ]
    )


def _ruled_out(told: Mapping[str, Any], now: Mapping[str, Any]) -> list[str]:
    left = {clean(c.get("says")): number(c, "probability") or 0.0 for c in items(now, "causes")}
    return [
        clean(cause.get("says"))
        for cause in items(told, "causes")
        if cause.get("component")
        and (number(cause, "probability") or 0.0) >= _WAS
        and left.get(clean(cause.get("says")), 0.0) < _NOW
    ]


def _looks(question: Mapping[str, Any], catalogue: Catalogue) -> list[str]:
    """What checks showed, in the catalogue's words; codes where it has none."""
    told = []
    for look in items(question, "observations"):
        check = catalogue.checks.get(clean(look.get("check")))
        found = check.found.get(clean(look.get("found"))) if check else None
        label = check.label if check else words(look.get("check"))
        told.append(f"{label}: {found.says if found else words(look.get('found'))}")
    return told


def _cleared(found: Mapping[str, Any]) -> list[str]:
    good = [
        f"{words(a.get('component'))} ({words(a.get('result'))})"
        for a in items(part(found, "question"), "tried")
        if a.get("result") in _NOT_THE_FAULT
    ]
    return [*texts(found, "ruled_out"), *good]


def _likeliest(found: Mapping[str, Any]) -> list[str]:
    return [
        f"{clean(c.get('says'))}, {share(number(c, 'probability'))}"
        for c in items(found, "likeliest")
    ]


def _reading(reading: Mapping[str, Any], width: int) -> list[str]:
    low, high = figure(number(reading, "low")), figure(number(reading, "high"))
    band = (
        f"{low} to {high}"
        if low and high
        else f"{low} or more"
        if low
        else high and f"{high} or less"
    )
    verdict = clean(reading.get("verdict"))
    tail = f", {verdict}" + (f" (good: {band})" if band else "")
    return _dash(clean(reading.get("said")).rstrip(".") + tail, width)


def _attempt(attempt: Mapping[str, Any]) -> str:
    minutes = number(attempt, "minutes")
    took = "" if minutes is None else f", {figure(minutes)} min"
    what = f"{words(attempt.get('component'))}, {words(attempt.get('action'))}"
    return f"{what}: {words(attempt.get('result'))}{took}"


def _row(title: str, value: str, width: int) -> list[str]:
    return para(f"{title}: {value}", width, rest="  ") if value else []


def _dashes(told: Iterable[str], width: int) -> list[str]:
    return [line for text in told for line in _dash(text, width)]


def _dash(text: str, width: int) -> list[str]:
    return para(text, width, first="- ")
