"""A session at the set, walked step by step: one thing to do, one key a choice.

After each answer the session is kept, then the question is asked again with everything told
so far, so that the next step is always that of a fresh plan.
"""

from collections.abc import Callable, Mapping
from typing import Any, Protocol

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.errors import RefusedInput
from mendpool.core.record.machine import Machine
from mendpool_field.checking import typed
from mendpool_field.dialogs import DIALOGS
from mendpool_field.ending import ending
from mendpool_field.errors import Refused
from mendpool_field.explain import explain
from mendpool_field.face import Face
from mendpool_field.layout import items
from mendpool_field.questions import Step
from mendpool_field.replay import Stopped, WentBack, answered
from mendpool_field.session_bodies import question_from, report_from, surely_understood
from mendpool_field.sessions import Event, Session, key_of, skipped_steps
from mendpool_field.turn import Turn
from mendpool_field.usual import Usual
from mendpool_field.walk_show import Shower

_NOT_HEARD = "Nothing that it does was recognised in your words. Say it in other words?"
_UNSAFE = (
    "Leave it as it is, keep everybody away, and call someone who is licensed for it. "
    "What was found so far is kept."
)
_CALL: Mapping[str, Any] = {"do": "call", "says": "All that was left to do was skipped."}


class Answers(Protocol):
    """Whoever answers a question."""

    def ask(self, question: Mapping[str, Any]) -> dict[str, Any]:
        """Return the answer."""


class Walk:
    """One run of a session.

    Args:
        session: as it was kept; it is changed in place.
        catalogue: the trade's knowledge on this machine.
        answers: the pool, or this machine.
        face: what it tells and asks through.
        keep: keeps the session; called before every next question.
        asked: is handed each question before it is answered.
        now_s: the clock, seconds.
        width: columns.
        usual: what was used last on this set, to be offered first.
    """

    def __init__(
        self,
        session: Session,
        catalogue: Catalogue,
        answers: Answers,
        face: Face,
        *,
        keep: Callable[[], None],
        asked: Callable[[Mapping[str, Any]], None],
        now_s: Callable[[], float],
        width: int,
        usual: Usual = Usual(),  # noqa: B008 - it can't be changed
    ) -> None:
        self.session = session
        self.usual = usual
        self.catalogue = catalogue
        self.face = face
        self.keep = keep
        self.now_s = now_s
        self.show = Shower(face, width)
        self.trouble = ""
        self.keys_told = False
        self._answers = answers
        self._asked = asked

    def to_the_end(self) -> dict[str, Any]:
        """Walk to the end and return the report, less its month.

        Raises:
            Stopped: the person stopped; everything is kept.
            EOFError: nobody is there any more; as above.
        """
        while True:
            if self.session.is_over:
                ended = self._ended()
                if ended is not None:
                    return report_from(self.session, ended, self.catalogue)
            elif self.session.dialog is not None:
                self._go_on_with_dialog()
            else:
                self._next_step()

    def back_into_the_ending(self) -> None:
        """Take back the last answer of the ending, to answer it otherwise."""
        dialog = self.session.dialog
        if dialog and dialog["typed"]:
            dialog["typed"].pop()
        self.keep()

    def add(self, event: Event) -> None:
        """Keep an event."""
        self.session.log.append(event)
        self.keep()

    def begin(self, about: Mapping[str, Any]) -> None:
        """Begin a dialogue, which is asked next."""
        dialog = {"about": dict(about), "typed": [], "catalogue": self.catalogue.version}
        self.session.dialog = dialog
        self.keep()

    def take_back(self) -> None:
        """Take the last event back; before the first, what was said can be said otherwise."""
        if self.session.log:
            self.session.log.pop()
            self.keep()
        else:
            self.begin({"what": "rewording", "said": self.session.asked.get("complaint", "")})

    def ask_with(self, more: Mapping[str, Any]) -> dict[str, Any]:
        """Return the answer to the question as it stands, with more in it."""
        return self._answers.ask({**question_from(self.session), **more})

    def _ended(self) -> dict[str, Any] | None:
        if self.session.dialog is None:
            self.begin({"what": "ending"})
        dialog = self._dialog()
        machine = typed(Machine, self.session.machine)
        try:
            return answered(
                lambda: ending(self.session, machine, self.catalogue),
                dialog["typed"],
                self.face,
                self.keep,
            )
        except WentBack:
            self.session.dialog = None
            self.take_back()
            return None

    def _go_on_with_dialog(self) -> None:
        dialog = self._dialog()
        about = dialog["about"]
        start = DIALOGS[about["what"]]
        try:
            event = answered(
                lambda: start(about, self.catalogue), dialog["typed"], self.face, self.keep
            )
        except WentBack:
            event = None
        self.session.dialog = None
        if event is not None and event["kind"] == "start":
            self.session.asked |= event["asked"]
        elif event is not None:
            self.session.log.append(event)
        self.keep()

    def _dialog(self) -> dict[str, Any]:
        """Return the dialogue under way; its answers are keys into one catalogue's lists."""
        dialog = self.session.dialog or {}
        if dialog.setdefault("catalogue", self.catalogue.version) != self.catalogue.version:
            dialog |= {"typed": [], "catalogue": self.catalogue.version}
        return dialog

    def _next_step(self) -> None:
        answer = self._answer()
        if answer is None:
            return
        self.session.symptoms = surely_understood(answer)
        self.show.news(answer)
        if self._not_heard(answer):
            return
        step = self._pick(answer)
        self.show.cautions(answer, step)
        if step.get("do") == "safe":
            self._make_safe(step)
        else:
            Turn(self, step, answer).take()

    def _answer(self) -> dict[str, Any] | None:
        question = question_from(self.session)
        self._asked(question)
        try:
            return self._answers.ask(question)
        except (Refused, RefusedInput) as refused:
            if not self.session.log:
                raise
            self.take_back()
            self.trouble = explain(refused).says
            return None

    def _not_heard(self, answer: Mapping[str, Any]) -> bool:
        """Where the words told nothing, ask once for others before any plan is followed."""
        silent = answer.get("symptoms") == [] and not answer.get("readings")
        if not silent or self.session.log:
            return False
        step = Step(_NOT_HEARD, hint="Enter: go on with what there is; q stop")
        words = self.face.ask(step).strip()
        if words.lower() == "q":
            raise Stopped
        self.add({"kind": "said", "text": words})
        return True

    def _pick(self, answer: Mapping[str, Any]) -> Mapping[str, Any]:
        """Return the first step of the plan that is still to be done."""
        made_safe = {event["says"] for event in self.session.of("safe")}
        left_out = skipped_steps(self.session)
        dropped = False
        for step in items(answer, "plan"):
            if step.get("do") == "safe":
                if step.get("says") not in made_safe:
                    return step
                continue
            # What a fix opened is proved with it; without the fix there is nothing to prove.
            with_its_fix = step.get("do") == "prove" and dropped
            dropped = with_its_fix or key_of(step) in left_out
            if not dropped:
                return step
        return _CALL

    def _make_safe(self, step: Mapping[str, Any]) -> None:
        self.show.safe(step)
        choices = (("d", "done, it is safe now"), ("n", "it can't be made safe"))
        trouble = self.trouble
        while True:
            asked = Step("Is that done?", choices, "d or n; b back, q stop", trouble)
            key = self.face.ask(asked).strip().lower()
            self.trouble = ""
            if key == "q":
                raise Stopped
            if key == "b":
                self.take_back()
                return
            if key == "d":
                self.add({"kind": "safe", "says": step.get("says")})
                return
            if key == "n":
                self.show.remark(_UNSAFE)
                self.add({"kind": "over", "why": "unsafe"})
                return
            trouble = "Type d once it is done, n if it can't be."
