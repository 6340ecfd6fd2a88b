"""Answer beside the set with no signal, from the catalogue that came with the command.

The same code as the service's, so the same words; only the pool's reports are missing.
"""

import json
from collections.abc import Mapping
from typing import Any

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.codes import check_question
from mendpool.core.diagnosis.engine import Engine
from mendpool.core.diagnosis.judging import judge_all
from mendpool.core.record.report import JudgeRequest, Question
from mendpool_field.checking import typed


def judge_here(body: Mapping[str, Any], catalogue: Catalogue) -> dict[str, Any]:
    """Judge readings as the service does.

    Raises:
        RefusedInput: a complaint for each reading that can't be understood.
    """
    return judge_all(typed(JudgeRequest, body), catalogue)


class Here:
    """Answers questions from the catalogue alone; make one and keep it for a session."""

    def __init__(self, catalogue: Catalogue) -> None:
        self._catalogue = catalogue
        self._engine = Engine(catalogue)

    def answer(self, body: Mapping[str, Any]) -> dict[str, Any]:
        """Answer a question; the answer says in its `evidence` what it is from.

        Raises:
            RefusedInput: unknown codes, or readings that can't be understood.
        """
        question = typed(Question, body)
        check_question(question, self._catalogue)
        engine = self._engine
        answer = engine.answer(question, engine.understand(question), (), 0)
        found: dict[str, Any] = json.loads(
            answer.model_dump_json(by_alias=True, exclude_unset=True)
        )
        return found


def answer_here(body: Mapping[str, Any], catalogue: Catalogue) -> dict[str, Any]:
    """Answer one question; see `Here`."""
    return Here(catalogue).answer(body)
