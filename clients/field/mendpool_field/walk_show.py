"""What a walked session shows at each step, and what it has shown already."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from mendpool_field.face import Face
from mendpool_field.layout import clean, items, number, para, share, sourced
from mendpool_field.render import (
    Shown,
    caution_lines,
    evidence_lines,
    flag_lines,
    odds_lines,
    reading_lines,
    understood_lines,
)
from mendpool_field.render_plan import step_lines, topics_of

_LIKELIEST = 2


@dataclass(slots=True)
class Shower:
    """Tells what is new in each answer, once.

    Args:
        face: where it is told.
        width: columns.
    """

    face: Face
    width: int
    _told: set[str] = field(default_factory=set)
    _odds: str = ""

    def news(self, answer: Shown) -> None:
        """Tell what an answer says that was not told yet: words, readings, flags, odds."""
        lines: list[str] = []
        understood = understood_lines(answer, self.width)
        if self._is_new("understood", understood):
            lines += understood
        for reading in items(answer, "readings"):
            told = reading_lines(reading, self.width)
            lines += told if self._is_new("reading", told) else []
        together = [p for p in items(answer, "together") if self._is_new("together", p)]
        for pattern in together:
            lines += para(f"Together: {clean(pattern.get('says'))}", self.width, first="* ")
        flags = [f for f in items(answer, "flags") if self._is_new("flag", f)]
        lines += flag_lines({"flags": flags}, self.width)
        lines += self._likeliest(answer)
        body = {k: answer.get(k) for k in ("symptoms", "readings", "causes", "evidence")}
        self.face.tell("understood", {**body, "flags": flags}, lines)

    def cautions(self, answer: Shown, step: Shown) -> None:
        """Tell the cautions of a step, and those of the whole; not those of later steps.

        Held back is only what the answer says that steps alone call for.
        """
        plan = items(answer, "plan")
        later = {t for other in plan if other is not step for t in topics_of(other)}
        due = later.difference(topics_of(step))
        told = [
            caution
            for caution in items(answer, "cautions")
            if not (caution.get("of_steps") is True and caution.get("code") in due)
            and self._is_new("caution", caution)
        ]
        lines = caution_lines({"cautions": told}, self.width)
        if lines:
            self.face.tell("cautions", {"cautions": told}, ["TAKE CARE", *lines])

    def step(self, place: int, step: Shown) -> None:
        """Tell one step."""
        lead = f"{place}. "
        lines = step_lines(step, self.width, lead=lead)
        self.face.tell("step", {"number": place, "step": step}, lines)

    def safe(self, step: Shown) -> None:
        """Tell what must be made safe before anything else."""
        source = clean(step.get("source"))
        says = sourced(clean(step.get("says")), source)
        lines = para(says, self.width, first="! ", rest="  ")
        lines += para(clean(step.get("how")), self.width, first="  ")
        self.face.tell("safe", {"step": step}, ["FIRST OF ALL", *lines])

    def why(self, answer: Shown, step: Shown) -> None:
        """Tell why this step, and all the odds."""
        lines = para(clean(step.get("says")), self.width)
        lines += ["", "ODDS", *odds_lines(answer, self.width)]
        lines += evidence_lines(answer, self.width)
        body = {"causes": answer.get("causes"), "evidence": answer.get("evidence")}
        self.face.tell("why", {"says": step.get("says"), **body}, lines)

    def remark(self, says: str) -> None:
        """Tell a sentence."""
        self.face.tell("remark", {"says": says}, para(says, self.width))

    def _likeliest(self, answer: Shown) -> list[str]:
        named = [c for c in items(answer, "causes") if c.get("component")][:_LIKELIEST]
        told = "; ".join(
            f"{clean(c.get('says'))} ({share(number(c, 'probability'))})" for c in named
        )
        if not told or told == self._odds:
            return []
        self._odds = told
        return para(f"Likeliest now: {told}.", self.width)

    def _is_new(self, kind: str, said: object) -> bool:
        if isinstance(said, Mapping):
            said = [said.get("code"), said.get("says")]
        key = f"{kind} {said}"
        fresh = key not in self._told
        self._told.add(key)
        return fresh
