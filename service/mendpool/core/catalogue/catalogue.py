"""The catalogue as one value."""

from collections.abc import Mapping
from functools import cached_property
from typing import Any

from pydantic import BaseModel, ConfigDict

from mendpool.core.catalogue.advice import Advice
from mendpool.core.catalogue.caution_calls import CautionCalls
from mendpool.core.catalogue.gates import Gate
from mendpool.core.catalogue.limits import Limit
from mendpool.core.catalogue.model import Cause, Caution, Check, Component, Symptom
from mendpool.core.catalogue.patterns import Pattern
from mendpool.core.catalogue.planning import GetByWords, Opening, Planning
from mendpool.core.catalogue.possible import Possible
from mendpool.core.catalogue.proving import ProvingStep
from mendpool.core.catalogue.reading_words import ReadingWords
from mendpool.core.catalogue.scrub_words import ScrubWords
from mendpool.core.catalogue.sets import SetWords
from mendpool.core.catalogue.sheet import SheetPlan
from mendpool.core.catalogue.tables import Tables
from mendpool.core.catalogue.vocabulary import Vocabulary
from mendpool.core.catalogue.words import Words
from mendpool.core.catalogue.working_texts import WorkingText


class Catalogue(BaseModel):
    """Everything the trade knows before the first report, checked as a whole."""

    model_config = ConfigDict(frozen=True, defer_build=True)

    vocabulary: Vocabulary
    symptoms: Mapping[str, Symptom]
    components: Mapping[str, Component]
    causes: tuple[Cause, ...]
    voices: Mapping[str, tuple[str, ...]] = {}
    """What owners say who saw the sign that gives a cause away, by ``component/failure``."""
    checks: Mapping[str, Check]
    limits: tuple[Limit, ...]
    patterns: tuple[Pattern, ...]
    reading_words: ReadingWords
    cautions: tuple[Caution, ...]
    gates: tuple[Gate, ...]
    advice: tuple[Advice, ...] = ()
    possible: Mapping[str, Possible] = {}
    words: Words
    sets: SetWords
    tables: Tables
    workings: Mapping[str, WorkingText]
    proving: tuple[ProvingStep, ...]
    openings: Mapping[str, Opening]
    planning: Planning
    get_bys: tuple[GetByWords, ...]
    sheet: SheetPlan
    scrub_words: ScrubWords
    """Words of languages by which numbers, days and streets are known."""
    ordinary: tuple[str, ...] = ()
    """Plain words of the language: no typing mistakes, and no names."""
    name_nobody: Mapping[str, tuple[str, ...]] = {}
    """Words that look like somebody's name and are a tool's, a part's or another language's."""
    version: str = ""
    """Hash of the YAML it was read from; set by whoever read it."""

    def model_copy(
        self, *, update: Mapping[str, Any] | None = None, deep: bool = False
    ) -> "Catalogue":
        """Return a copy; what was worked out from the parts is worked out anew."""
        copied = super().model_copy(update=update, deep=deep)
        for name in ("nobodys_words", "caution_calls", "cause_by_key", "limits_at"):
            copied.__dict__.pop(name, None)
        return copied

    @cached_property
    def nobodys_words(self) -> frozenset[str]:
        """Every word that is nobody's name, the trade's own aside."""
        return frozenset(self.ordinary).union(*self.name_nobody.values())

    def settled(self, looks: Mapping[str, str]) -> dict[str, str]:
        """Return the fields of the nameplate that checks settled, by what each of them found.

        Args:
            looks: what was found, by check.
        """
        told: dict[str, str] = {}
        for code, found in looks.items():
            check = self.checks.get(code)
            if check and check.tells and found in self.vocabulary.machine.get(check.tells, {}):
                told[check.tells] = found
        return told

    @cached_property
    def caution_calls(self) -> CautionCalls:
        """What calls for which caution."""
        return CautionCalls(self.cautions)

    @cached_property
    def limits_at(self) -> Mapping[tuple[str, str], tuple[Limit, ...]]:
        """Limits by quantity and point, in their order."""
        found: dict[tuple[str, str], tuple[Limit, ...]] = {}
        for limit in self.limits:
            for point in dict.fromkeys(limit.points):
                place = limit.quantity, point
                found[place] = (*found.get(place, ()), limit)
        return found

    @cached_property
    def cause_by_key(self) -> Mapping[str, Cause]:
        """Causes by ``component/failure``."""
        return {cause.key: cause for cause in self.causes}
