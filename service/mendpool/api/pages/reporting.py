"""From a posted form to a report, and what will be removed of it, struck through."""

import re
from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

from mendpool.api.pages.asking import Body, case_of, number
from mendpool.api.pages.form import Form
from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.evidence.getting_by import told_outcome

ROWS = 4
"""Lines for what was tried."""
_MARK = re.compile(r"\[(?:name|phone|email|address|position|link|handle|number|day)\]")
_DEFEATED = "defeated"


class Piece(NamedTuple):
    """A part of a text; `gone` is the kind it is removed as, None where it stays."""

    text: str
    gone: str | None


def report_of(form: Form, catalogue: Catalogue) -> Body:
    """Return the body of a report. Cost, hours and region go along only where ticked.

    Raises:
        RefusedInput: a figure that is none.
    """
    body = case_of(form, catalogue)
    if "readings" in body:
        body["readings"] = [{**reading, "stage": "found"} for reading in body["readings"]]
    attempts = list(_attempts(form))
    if attempts:
        body["attempts"] = attempts
    left = form.one("left")
    if left:
        body["protection"] = _protection(left)
    if form.one("cause"):
        named = {"component": form.one("cause"), "failure": form.one("failure")}
        body["cause"] = {name: code for name, code in named.items() if code}
    body["outcome"] = told_outcome(form.one("outcome"), body, catalogue.sets.protections)
    body |= {name: form.one(name) for name in ("happened", "note") if form.one(name)}
    if hours := _ticked(form, "hours"):
        body["machine"]["hours"] = number(hours, "/machine/hours")
    if region := _ticked(form, "region"):
        body["region"] = region
    return body


def _ticked(form: Form, name: str) -> str:
    """A field that goes along only where its box is ticked."""
    return form.one(name) if form.one(f"tell_{name}") else ""


def _protection(left: str) -> Body:
    if left == "intact":
        return {"found": left}
    return {"found": _DEFEATED, "left": left}


def _attempts(form: Form) -> Iterator[Body]:
    for told in form.all("did"):
        parts = told.split(":")
        if len(parts) == 3:
            yield dict(zip(("component", "action", "result"), parts, strict=True))
    for row in range(ROWS):
        part, action, result = (form.one(f"{n}{row}") for n in ("part", "action", "result"))
        if not part:
            continue
        attempt: Body = {"component": part, "action": action, "result": result}
        if minutes := form.one(f"minutes{row}"):
            attempt["minutes"] = number(minutes, f"/attempts/{row}/minutes")
        yield attempt


def struck(told: Mapping[str, Any], kept: Mapping[str, Any]) -> dict[str, list[Piece]]:
    """Return the texts of a report in pieces, what goes with its kind.

    Args:
        told: as it was typed.
        kept: as it would be stored.
    """
    return {
        name: pieces(str(told[name]), str(kept.get(name, "")))
        for name in ("complaint", "note")
        if told.get(name)
    }


def pieces(told: str, kept: str) -> list[Piece]:
    """Return a text in pieces: what stays, and what goes with its kind.

    What stays stands in both word for word, so it is looked for from left to right; what lies
    between is what goes. Where that does not work out, all of it is shown as it will be.
    """
    stays = _MARK.split(kept)
    kinds = [mark[1:-1] for mark in _MARK.findall(kept)]
    found: list[Piece] = []
    at = 0
    for place, text in enumerate(stays):
        if place == 0:
            if not told.startswith(text):
                return [Piece(kept, None)]
            start = 0
        else:
            last = place == len(stays) - 1
            # Something was there, so the search begins a character further on.
            start = len(told) - len(text) if last else told.find(text, at + 1)
            if start <= at or not told.startswith(text, start):
                return [Piece(kept, None)]
            found.append(Piece(told[at:start], kinds[place - 1]))
        found.append(Piece(text, None))
        at = start + len(text)
    if at != len(told):
        return [Piece(kept, None)]
    return [piece for piece in found if piece.text]
