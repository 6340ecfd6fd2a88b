"""Answer beside the set with no signal, from the catalogue that came with the command.

The same code as the service's, so the same words; only the pool's reports are missing.
"""

import json
from collections.abc import Mapping
from typing import Any

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.codes import check_judge, check_question
from mendpool.core.diagnosis.engine import Engine, bare, pattern_shown
from mendpool.core.diagnosis.understand import judge_readings
from mendpool.core.readings.together import together
from mendpool.core.record.report import JudgeRequest, Question
from mendpool_field.checking import typed


def judge_here(body: Mapping[str, Any], catalogue: Catalogue) -> dict[str, Any]:
    """Judge readings as the service does.

    Raises:
        RefusedInput: a complaint for each reading that can't be understood.
    """
    request = typed(JudgeRequest, body)
    check_judge(request, catalogue)
    judged = judge_readings(request.readings, request.machine, catalogue)
    return {
        "readings": [
            bare(j.judged).model_dump(mode="json", exclude_unset=True) for j in judged
        ],
        "together": [
            pattern_shown(pattern).model_dump(mode="json")
            for pattern in together(judged, request.machine, catalogue.patterns)
        ],
    }


def answer_here(body: Mapping[str, Any], catalogue: Catalogue) -> dict[str, Any]:
    """Answer a question from the catalogue alone; it says so in its `evidence`.

    Raises:
        RefusedInput: unknown codes, or readings that can't be understood.
    """
    question = typed(Question, body)
    check_question(question, catalogue)
    engine = Engine(catalogue)
    answer = engine.answer(question, engine.understand(question), (), 0)
    found: dict[str, Any] = json.loads(
        answer.model_dump_json(by_alias=True, exclude_unset=True)
    )
    return found
