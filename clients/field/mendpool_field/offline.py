"""Answer beside the set with no signal: from the member's own copy, else from the catalogue.

The same code as the service's: from the copy the same bytes, from the catalogue alone the same
words, without the pool's reports.
"""

import json
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

from mendpool_field.checking import typed

if TYPE_CHECKING:
    from pathlib import Path

    from mendpool.core.catalogue.catalogue import Catalogue
    from mendpool.core.diagnosis.engine import Engine
    from mendpool_field.copy_place import CopyState
    from mendpool_field.own_copy import OwnCopy

Tell = Callable[[str], None]


class Here:
    """Answers without a network; make one and keep it for a session.

    Args:
        home: the folder of everything kept.
        catalogue: the one that came with the command.
        tell: hears that a copy can't be used.
        now_s: seconds since 1970, for the age of the copy.
        make_engine: makes the engine when it is first wanted.
    """

    def __init__(
        self,
        home: "Path",
        catalogue: "Catalogue",
        tell: Tell,
        now_s: float,
        make_engine: "Callable[[], Engine]",
    ) -> None:
        from mendpool_field.copy_place import CopyPlace

        self._catalogue, self._tell, self._now_s = catalogue, tell, now_s
        self._make_engine = make_engine
        self._home = home
        self._state: CopyState | None = CopyPlace(home).state()
        self._copy: OwnCopy | None = None
        self._engine: Engine | None = None

    @property
    def has_copy(self) -> bool:
        """Whether there is a copy, as far as is known before it is read."""
        return self._state is not None

    @property
    def from_what(self) -> str:
        """What the answers are from: the copy and its age, or the catalogue."""
        if self._state is None:
            return "from the trade catalogue alone"
        from mendpool_field.copy_place import age_text

        return f"from your copy of {age_text(self._state, self._now_s)}"

    def answer(self, body: Mapping[str, Any]) -> dict[str, Any]:
        """Answer a question; the answer says in its `evidence` what it is from.

        Raises:
            RefusedInput: unknown codes, or readings that can't be understood.
        """
        found = self._from_copy(lambda copy: copy.ask(body))
        return self._from_catalogue(body) if found is None else found

    def judged(self, body: Mapping[str, Any]) -> dict[str, Any]:
        """Judge readings as the service does.

        Raises:
            RefusedInput: a complaint for each reading that can't be understood.
        """
        found = self._from_copy(lambda copy: copy.judge(body))
        if found is not None:
            return found
        from mendpool.core.diagnosis.judging import judge_all
        from mendpool.core.record.report import JudgeRequest

        return judge_all(typed(JudgeRequest, body), self._catalogue)

    def found(self, given: Mapping[str, str]) -> dict[str, Any] | None:
        """Return a page of reports from the copy; None where there is none."""
        return self._from_copy(lambda copy: copy.find(given))

    def shown(self, report_id: str) -> dict[str, Any] | None:
        """Return a report from the copy; None where it has none such."""
        return self._from_copy(lambda copy: copy.show(report_id))

    def _from_copy(
        self, ask: Callable[["OwnCopy"], dict[str, Any] | None]
    ) -> dict[str, Any] | None:
        if self._state is None:
            return None
        from mendpool_field.own_copy import CopyUnusable, copy_of

        try:
            self._copy = self._copy or copy_of(self._home, self._catalogue, self._make_engine)
            return None if self._copy is None else ask(self._copy)
        except CopyUnusable as trouble:
            self._state = None
            self._tell(
                f"Your copy can't be read ({trouble.why}). mendpool sync mends it or fetches "
                "it anew; until then the trade catalogue answers."
            )
            return None

    def _from_catalogue(self, body: Mapping[str, Any]) -> dict[str, Any]:
        from mendpool.core.catalogue.codes import check_question
        from mendpool.core.record.report import Question

        question = typed(Question, body)
        check_question(question, self._catalogue)
        engine = self._engine = self._engine or self._make_engine()
        answer = engine.answer(question, engine.understand(question), (), 0)
        found: dict[str, Any] = json.loads(
            answer.model_dump_json(by_alias=True, exclude_unset=True)
        )
        return found
