"""The short dialogues of a session: what came of a step, in one or a few answers.

Each is a generator over `questions` that returns an event of the session's log, or None.
What it is `about` is plain JSON, so that it can be kept and begun again.
"""

from collections.abc import Generator, Mapping
from typing import Any

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.evidence.getting_by import only_gets_by
from mendpool_field.put_back import PROOFS
from mendpool_field.questions import (
    Step,
    ask_attempt,
    ask_minutes,
    ask_needed_text,
    ask_one,
    ask_some,
    ask_text,
    ask_yes,
    labels,
)
from mendpool_field.render import GET_BY_WARNING, get_by_words
from mendpool_field.sessions import Event

Dialog = Generator[Step, str, Event | None]
About = Mapping[str, Any]
_CAME_OF_GET_BY = {"fixed": "it runs on that for now", "no-change": "no", "worse": "worse"}


def done(about: About, catalogue: Catalogue) -> Dialog:
    """Ask about a fix that was done: its minutes, and the proving of what it opened.

    `about` holds ``attempt``, ``prove`` (what is to be proved, if anything), ``likely`` and
    ``clock`` (minutes by the clock).
    """
    del catalogue
    attempt = dict(about["attempt"])
    minutes = yield from ask_minutes("How many minutes did it take?", about.get("clock"))
    if minutes is not None:
        attempt["minutes"] = minutes
    event: Event = {"kind": "tried", "attempt": attempt, "likely": about.get("likely", [])}
    if about.get("prove"):
        event["proof"] = yield from _proof(about["prove"])
    return event


def proving(about: About, catalogue: Catalogue) -> Dialog:
    """Ask whether a protection was proved; `about` holds its ``component`` and ``says``."""
    del catalogue
    proof = yield from _proof(about["says"])
    return {"kind": "proved", "component": about["component"], "proof": proof}


def something_else(about: About, catalogue: Catalogue) -> Dialog:
    """Ask for an attempt of the person's own, and the proving of what it opened.

    `about` may hold ``parts``, those touched last on this set.
    """
    attempt = yield from ask_attempt(
        catalogue,
        "What did you do besides? Name the part.",
        "Such as: avr, brushes. Enter for nothing",
        about.get("parts", ()),
    )
    if attempt is None:
        return None
    event: Event = {"kind": "tried", "attempt": attempt, "likely": []}
    protections = catalogue.sets.protections
    gets_by = only_gets_by(attempt["component"], attempt["action"], protections)
    if attempt["component"] in catalogue.sets.protections:
        label = catalogue.vocabulary.components[attempt["component"]]
        event["proof"] = yield from _proof(
            f"{label}: put it back as it was and prove that it trips or stops the set."
        )
        gets_by = gets_by or event["proof"] == "defeated"
    return event | ({"get_by": True} if gets_by else {})


def got_by(about: About, catalogue: Catalogue) -> Dialog:
    """Show ways to run for now, only after a plain warning, and ask which one was used.

    `about` holds the ``ways``, as an answer gives them.
    """
    del catalogue
    ways = about["ways"]
    yes = yield from ask_yes(
        f"{GET_BY_WARNING} Show them?", "yes, show them", "no", "One key; Enter for no"
    )
    if not yes:
        return None
    told = {str(n): " ".join(get_by_words(way)) for n, way in enumerate(ways)}
    picked = yield from ask_one(
        "Which one did you use?", told, hint="One key; Enter if none was used"
    )
    if picked is None:
        return None
    way = ways[int(picked)]
    result = yield from ask_one("Does it run?", _CAME_OF_GET_BY, hint="One key", needed=True)
    attempt = {"component": way["component"], "action": way["action"], "result": result}
    minutes = yield from ask_minutes("How many minutes did it take?")
    if minutes is not None:
        attempt["minutes"] = minutes
    event: Event = {"kind": "tried", "attempt": attempt, "likely": [], "get_by": True}
    if way.get("protection_defeated"):
        event["proof"] = "defeated"
    return event


def roughly(about: About, catalogue: Catalogue) -> Dialog:
    """Ask what a check showed where its figure has no limits to be judged by.

    `about` holds the ``check`` and its ``results``, codes with words.
    """
    del catalogue
    found = yield from ask_one(
        "There are no limits here to judge that by. What do you say it is?",
        dict(about["results"]),
        hint="One key; Enter if you can't say",
    )
    if found is None:
        return None
    return {"kind": "saw", "observation": {"check": about["check"], "found": found}}


def beginning(about: About, catalogue: Catalogue) -> Dialog:
    """Ask what is wrong, and what had happened before."""
    del about
    complaint = yield from ask_needed_text(
        "What does it do, or not do? In your own words.", "Such as: runs sweet, no power"
    )
    before = yield from ask_some(
        "What had happened just before?", labels(catalogue.vocabulary.before)
    )
    asked = {"complaint": complaint} | ({"before": before} if before else {})
    return {"kind": "start", "asked": asked}


def rewording(about: About, catalogue: Catalogue) -> Dialog:
    """Let the complaint be said in other words; `about` holds what was ``said``."""
    del catalogue
    said = f"You said: “{about['said']}”. " if about["said"] else ""
    complaint = yield from ask_text(
        f"This is the first step. {said}Say it in other words?", "Enter leaves it as it is"
    )
    return {"kind": "start", "asked": {"complaint": complaint}} if complaint else None


DIALOGS = {
    "beginning": beginning,
    "rewording": rewording,
    "done": done,
    "proving": proving,
    "something else": something_else,
    "got by": got_by,
    "roughly": roughly,
}
"""By the name a kept session holds."""


def _proof(says: str) -> Generator[Step, str, Any]:
    return (yield from ask_one(f"{says} Was it?", PROOFS, hint="One key", needed=True))
