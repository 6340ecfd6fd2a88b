"""From a session to what is asked and what is reported: bodies of the wire format."""

import json
from collections.abc import Mapping
from typing import Any

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool_field.compose import Body
from mendpool_field.sessions import Session

_ONLY_ASKED = ("at_hand", "must_run", "limit", "get_by", "tried")
_SURE = 0.8
"""A symptom understood less surely stays out of the report; the words speak for themselves."""
_SAID = frozenset({"said", "complaint"})


def question_from(session: Session) -> Body:
    """Return the question as it stands now."""
    body = _case(session)
    if tried := attempts_of(session):
        body["tried"] = tried
    body["machine"] = {f: v for f, v in session.machine.items() if f != "hours"}
    return body


def attempts_of(session: Session) -> list[Body]:
    """Return what was tried, in order: before the session, then in it."""
    return [*session.asked.get("tried", ()), *(e["attempt"] for e in session.of("tried"))]


def report_from(session: Session, ended: Mapping[str, Any], catalogue: Catalogue) -> Body:
    """Return the report of a session, less its month.

    Args:
        session: at its end.
        ended: what the last questions gave: cause, outcome, protection, note, readings left.
        catalogue: says what a check settles about the kind of set.
    """
    question = question_from(session)
    body = {field: value for field, value in question.items() if field not in _ONLY_ASKED}
    looks = {str(o.get("check")): str(o.get("found")) for o in question.get("observations", ())}
    body["machine"] = {**session.machine, **catalogue.settled(looks)}
    known = list(dict.fromkeys([*body.get("symptoms", ()), *session.symptoms]))
    if known:
        body["symptoms"] = known
    readings = [{"stage": "found", **reading} for reading in body.get("readings", ())]
    readings += ended.get("readings", ())
    if readings:
        body["readings"] = readings
    if question.get("tried"):
        body["attempts"] = question["tried"]
    rest = {field: value for field, value in ended.items() if field != "readings" and value}
    return body | rest


def surely_understood(answer: Mapping[str, Any]) -> list[str]:
    """Return the symptoms that an answer took the words for, and surely."""
    found = answer.get("symptoms")
    return [
        symptom["code"]
        for symptom in (found if isinstance(found, list) else ())
        if isinstance(symptom, dict)
        and isinstance(symptom.get("code"), str)
        and symptom.get("from") in _SAID
        and (symptom.get("confidence") or 0) >= _SURE
    ]


def _case(session: Session) -> Body:
    body: Body = json.loads(json.dumps(session.asked))
    words = [body.get("complaint", ""), *(event["text"] for event in session.of("said"))]
    if any(words):
        body["complaint"] = ". ".join(word for word in words if word)
    readings = [*body.get("readings", ()), *(e["reading"] for e in session.of("read"))]
    if readings:
        body["readings"] = readings
    # The same thing looked at again: the newer look counts.
    looks = [*body.get("observations", ()), *(e["observation"] for e in session.of("saw"))]
    newest = {(look.get("check"), look.get("which")): look for look in looks}
    if newest:
        body["observations"] = list(newest.values())
    return body
