"""Ask: match a complaint to past reports and say what to do next. Stores nothing."""

from mendpool.core.catalogue.codes import check_judge, check_question
from mendpool.core.diagnosis.engine import bare, pattern_shown
from mendpool.core.diagnosis.understand import judge_readings
from mendpool.core.readings.together import together
from mendpool.core.record.answer import Answer
from mendpool.core.record.report import JudgeRequest, Question
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
    """Return each reading's verdict, and what they point at together.

    Raises:
        RefusedInput: with a complaint for each reading that can't be understood.
    """
    check_judge(request, place.catalogue)
    judged = judge_readings(request.readings, request.machine, place.catalogue)
    return {
        "readings": [
            bare(j.judged).model_dump(mode="json", exclude_unset=True) for j in judged
        ],
        "together": [
            pattern_shown(pattern).model_dump(mode="json")
            for pattern in together(judged, request.machine, place.catalogue.patterns)
        ],
    }
