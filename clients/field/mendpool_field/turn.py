"""One step of a session as it is asked: what it showed or what came of it, in one key."""

import re
from collections.abc import Callable, Mapping
from typing import Any, Protocol

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.errors import RefusedInput
from mendpool.core.record.machine import Machine
from mendpool_field.checking import typed as typed_as
from mendpool_field.errors import Refused
from mendpool_field.face import Face
from mendpool_field.figures_typed import figure_of
from mendpool_field.guide import ask_figure, place_words
from mendpool_field.layout import clean, items
from mendpool_field.questions import Step
from mendpool_field.render_plan import results_of
from mendpool_field.replay import Stopped, WentBack, answered
from mendpool_field.sessions import Event, Session, key_of
from mendpool_field.usual import Usual
from mendpool_field.walk_show import Shower

KEYS = "123456789acfhijklmnoptuvxyz"
"""Keys of results: those that mean something else at every step are left out."""
_VERDICTS = {"low": "l", "within": "n", "high": "h"}
_NO_RESULT_OF_A_FIX = frozenset({"found-bad"})
_MOVES = {
    "s": "skip it",
    "b": "back",
    "w": "why",
    "g": "get by",
    "r": "another reading",
    "d": "did something else",
    "e": "end here",
    "q": "stop and keep",
}
_LONG = "; ".join(f"{key} {says}" for key, says in _MOVES.items())
_SHORT = f"{' '.join(_MOVES)}; ? tells what they do"
_CLOCK_MOST_MIN = 600
_A_KEY = re.compile(r"[1-9]")
_PHRASE = re.compile(r"[a-z]{2}.*\d|\d.*[a-z]{2}", re.IGNORECASE)
_WORSE = "If it can be put back as it was, do that before anything else."
_NO_GET_BY = "No way to get by is known here, or none that may be shown."


class Walking(Protocol):
    """The run of a session that a step is part of.

    Args:
        usual: what was used last on this set, to be offered first.
        trouble: why the last answer could not be used, to be told with the next question.
        keys_told: whether it was told what the keys do.
    """

    session: Session
    catalogue: Catalogue
    face: Face
    show: Shower
    usual: Usual
    keep: Callable[[], None]
    now_s: Callable[[], float]
    trouble: str
    keys_told: bool

    def add(self, event: Event) -> None:
        """Keep an event."""

    def begin(self, about: Mapping[str, Any]) -> None:
        """Begin a dialogue, which is asked next."""

    def take_back(self) -> None:
        """Take the last event back."""

    def ask_with(self, more: Mapping[str, Any]) -> dict[str, Any]:
        """Return the answer to the question as it stands, with more in it."""


class Turn:
    """One step, put to the person.

    Args:
        walk: the session's run.
        step: of the plan.
        answer: the whole that it is from.
    """

    def __init__(
        self, walk: Walking, step: Mapping[str, Any], answer: Mapping[str, Any]
    ) -> None:
        self._walk = walk
        self._step = step
        self._answer = answer
        self._do = clean(step.get("do"))
        self._results = self._results_by_key()
        self._check = walk.catalogue.checks.get(clean(step.get("check")))
        self._trouble = walk.trouble
        self._since_s = walk.now_s()
        walk.trouble = ""

    def take(self) -> None:
        """Show the step and ask until something came of it."""
        self._walk.show.step(self._walk.session.place, self._step)
        if self._do == "prove":
            self._walk.begin(
                {
                    "what": "proving",
                    "component": clean(self._step.get("component")),
                    "says": clean(self._step.get("says")),
                }
            )
            return
        while not self._came_of_it(self._walk.face.ask(self._asked())):
            pass

    def _came_of_it(self, line: str) -> bool:
        word = line.strip()
        move, _, rest = word.partition(" ")
        self._trouble = ""
        found = self._results.get(word.lower())
        if found is None and word.lower() in self._results.values():
            found = word.lower()
        if found is not None:
            self._result(found)
            return True
        if move.lower() in _MOVES and (not rest or move.lower() == "r"):
            return self._moved(move.lower(), rest.strip())
        if word == "?":
            self._walk.keys_told = False
            return False
        if self._figures_of() is not None and word:
            return self._figure(word, ours=True)
        # A whole phrase with a figure in it is a reading, whatever was asked.
        if _PHRASE.search(word) and self._figure(word, ours=False):
            return True
        self._trouble = "Type one of the keys; ? tells what they do."
        return False

    def _moved(self, move: str, rest: str) -> bool:
        walk = self._walk
        if move == "q":
            raise Stopped
        if move == "w":
            walk.show.why(self._answer, self._step)
            return False
        if move == "g":
            return self._get_by()
        if move == "r":
            return self._figure(rest, ours=False) if rest else self._another_reading()
        if move == "s":
            return self._skipped()
        if move == "b":
            walk.take_back()
        elif move == "d":
            walk.begin({"what": "something else", "parts": list(walk.usual.parts)})
        else:
            walk.add({"kind": "over", "why": "ended"})
        return True

    def _skipped(self) -> bool:
        if self._do == "call":
            self._trouble = "There is nothing after this: e ends it, b goes back."
            return False
        self._walk.add({"kind": "skip", "step": list(key_of(self._step))})
        return True

    def _get_by(self) -> bool:
        try:
            answer: Mapping[str, Any] = self._walk.ask_with({"get_by": True})
        except (Refused, RefusedInput):
            answer = self._answer  # a pool of before get-bys were asked for
        ways = items(answer, "get_bys")
        if not ways:
            self._trouble = _NO_GET_BY
            return False
        self._walk.begin({"what": "got by", "ways": [dict(way) for way in ways]})
        return True

    def _another_reading(self) -> bool:
        """Ask for a reading; those taken last on this set are one key away."""
        walk = self._walk
        offered = {str(n): place for n, place in enumerate(walk.usual.readings, 1)}
        choices = tuple((key, place_words(place)) for key, place in offered.items())
        hint = f"{'A key, or such' if offered else 'Such'} as: 238 V. Enter for none"
        step = Step("What did you read? With its unit.", choices, hint)
        told = walk.face.ask(step).strip()
        if told not in offered:
            return self._figure(told, ours=False)
        machine = typed_as(Machine, walk.session.machine)
        place = offered[told]
        try:
            reading = answered(
                lambda: ask_figure(walk.catalogue, machine, place), [], walk.face, lambda: None
            )
        except WentBack:
            return False
        if reading is None:
            return False
        walk.add({"kind": "read", "reading": reading})
        return True

    def _figure(self, word: str, *, ours: bool) -> bool:
        """Take a figure: the check's own, or another."""
        walk = self._walk
        if not word:
            return False
        check = self._check if ours else None
        machine = typed_as(Machine, walk.session.machine)
        try:
            given, judged, answers = figure_of(word, check, machine, walk.catalogue)
        except RefusedInput as refused:
            self._trouble = refused.errors[0].says
            return False
        doubted = ours and judged.verdict != "within" and _A_KEY.fullmatch(word)
        if doubted and not self._is_meant(word, judged.unit):
            return False
        event = {"kind": "read", "reading": given}
        if answers and check is not None:
            event["check"] = check.code
        walk.session.log.append(event)
        if answers and check is not None and judged.verdict == "unjudged":
            walk.begin({"what": "roughly", "check": check.code, "results": dict(self._told())})
        else:
            walk.keep()
        return True

    def _is_meant(self, word: str, unit: str) -> bool:
        """A lone digit that reads wrong may have been meant for a key."""
        unit = "" if unit == "1" else f" {unit}"
        asked = Step(f"Does it read {word}{unit}?", (("y", "yes"), ("n", "no")), "y or n")
        return self._walk.face.ask(asked).strip().lower() in {"y", "yes"}

    def _result(self, code: str) -> None:
        walk = self._walk
        if self._do == "test":
            check = clean(self._step.get("check"))
            means = dict(self._meanings()).get(code)
            if means:
                walk.show.remark(f"So: {means}")
            walk.add({"kind": "saw", "observation": {"check": check, "found": code}})
            return
        if code == "worse":
            walk.show.remark(_WORSE)
        component = clean(self._step.get("component"))
        attempt = {"component": component, "action": clean(self._step.get("action"))}
        walk.begin(
            {
                "what": "done",
                "attempt": {**attempt, "result": code},
                "prove": self._proof_due() if code != "found-good" else None,
                "likely": self._likely_failures(component),
                "clock": self._minutes_by_clock(),
            }
        )

    def _proof_due(self) -> str | None:
        """What is to be proved after this fix: the step that follows it in the plan."""
        plan = items(self._answer, "plan")
        place = next((i for i, step in enumerate(plan) if step is self._step), len(plan))
        after = plan[place + 1] if place + 1 < len(plan) else {}
        return clean(after.get("says")) if after.get("do") == "prove" else None

    def _likely_failures(self, component: str) -> list[str]:
        return [
            clean(cause.get("failure"))
            for cause in items(self._answer, "causes")
            if cause.get("component") == component and cause.get("failure")
        ]

    def _minutes_by_clock(self) -> float | None:
        minutes = round((self._walk.now_s() - self._since_s) / 60)
        return float(minutes) if 1 <= minutes <= _CLOCK_MOST_MIN else None

    def _asked(self) -> Step:
        asks = {"test": "What did it show?", "fix": "Once it is done: what came of it?"}.get(
            self._do, "What now?"
        )
        hint = _SHORT if self._walk.keys_told else _LONG
        self._walk.keys_told = True
        unit = self._figures_of()
        if unit is not None:
            asks = "What do you read?"
            hint = f"The figure{f', in {unit} or with its unit' if unit else ''}; {hint}"
        told = dict(self._told())
        choices = tuple((key, told[code]) for key, code in self._results.items())
        return Step(asks, choices, hint, self._trouble)

    def _figures_of(self) -> str | None:
        """The unit of the figure that is wanted; None where none is."""
        place = self._check.reading if self._check is not None and self._do == "test" else None
        if place is None:
            return None
        unit = self._walk.catalogue.vocabulary.readings[place.quantity].unit
        return "" if unit == "1" else unit

    def _results_by_key(self) -> dict[str, str]:
        codes = [code for code, _ in self._told()]
        if set(codes) <= set(_VERDICTS):
            return {_VERDICTS[code]: code for code in codes}
        if len(codes) > len(KEYS):
            return {str(n): code for n, code in enumerate(codes, 1)}
        return dict(zip(KEYS, codes, strict=False))

    def _told(self) -> list[tuple[str, str]]:
        """Return the codes of what can come of it, with their words."""
        if self._do == "test":
            return [(code, told.partition(": ")[0]) for code, told in results_of(self._step)]
        if self._do != "fix":
            return []
        known = self._walk.catalogue.vocabulary.results
        return [
            (code, label.partition(" (")[0])
            for code, label in known.items()
            if code not in _NO_RESULT_OF_A_FIX
        ]

    def _meanings(self) -> list[tuple[str, str]]:
        return [(code, told.partition(": ")[2]) for code, told in results_of(self._step)]
