"""Ask: match a complaint to past reports and say what to do next. Stores nothing."""

from collections.abc import Mapping
from typing import Any

from mendpool.core.catalogue.codes import check_question
from mendpool.core.diagnosis.judging import judge_all
from mendpool.core.record.answer import Answer
from mendpool.core.record.report import JudgeRequest, Question
from mendpool.core.workings.registry import work as work_out
from mendpool.core.workings.worked import Worked
from mendpool.usecases.workplace import Workplace


def ask(place: Workplace, question: Question) -> Answer:
    """Return the answer to a question.

    Raises:
        RefusedInput: unknown codes or readings that can't be understood.
    """
    check_question(question, place.catalogue)
    engine = place.learned.engine
    understood = engine.understand(question)
    found = place.learned.search(engine.search_terms(understood))
    if found.engine is not engine:
        # A newer fit came with the feed: understand with the words it knows.
        engine = found.engine
        understood = engine.understand(question)
        found = place.learned.search(engine.search_terms(understood))
    return engine.answer(question, understood, found.cases, found.searched, found.fit_name)


def judge(place: Workplace, request: JudgeRequest) -> dict[str, object]:
    """Return each reading's verdict, what they point at together, and what can hurt.

    Raises:
        RefusedInput: with a complaint for each reading that can't be understood.
    """
    return judge_all(request, place.catalogue, place.learned.newest_fit().norms)


def work(place: Workplace, name: str, given: Mapping[str, Any]) -> Worked:
    """Return one calculation of the trade, done.

    Raises:
        UnknownWorking: none of that name.
        RefusedInput: inputs that can't be used.
    """
    return work_out(name, given, place.catalogue)
