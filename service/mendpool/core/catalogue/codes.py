"""Whether the codes of a record exist; the nearest one is offered where not."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.vocabulary import nearest_code
from mendpool.core.errors import Complaint, RefusedInput
from mendpool.core.record.machine import Machine
from mendpool.core.record.reading import ReadingGiven
from mendpool.core.record.report import (
    Attempt,
    CauseFound,
    Followup,
    JudgeRequest,
    Observation,
    Question,
    Report,
)

_MACHINE_FIELDS = (
    "fuel", "excitation", "cooling", "starting", "duty", "drive", "control", "governor",
)  # fmt: skip
FEW = 15
"""Lists no longer than this are named whole where nothing is near."""


def check_report(report: Report, catalogue: Catalogue) -> None:
    """Refuse a report with codes nobody knows.

    Raises:
        RefusedInput: one complaint for each, with the nearest code.
    """
    v = catalogue.vocabulary
    causes = [("/cause", report.cause)] if report.cause else []
    causes += [(f"/causes/{i}", cause) for i, cause in enumerate(report.causes)]
    _refuse(
        [
            *_machine(report.machine, catalogue),
            *_codes("/symptoms", report.symptoms, v.symptoms, "symptom"),
            *_readings(report.readings, catalogue),
            *_observations(report.observations, catalogue),
            *_attempts("/attempts", report.attempts, catalogue),
            *(c for at, cause in causes for c in _cause(at, cause, catalogue)),
            *_code("/outcome", report.outcome, v.outcomes, "outcome"),
            *_codes("/before", report.before, v.before, "happening before"),
        ]
    )


def check_question(question: Question, catalogue: Catalogue) -> None:
    """Refuse a question with codes nobody knows; raises as `check_report`."""
    v = catalogue.vocabulary
    _refuse(
        [
            *_machine(question.machine, catalogue),
            *_codes("/symptoms", question.symptoms, v.symptoms, "symptom"),
            *_readings(question.readings, catalogue),
            *_observations(question.observations, catalogue),
            *_attempts("/tried", question.tried, catalogue),
            *_codes("/before", question.before, v.before, "happening before"),
        ]
    )


def check_judge(request: JudgeRequest, catalogue: Catalogue) -> None:
    """Refuse readings with codes nobody knows; raises as `check_report`."""
    _refuse(
        [
            *_machine(request.machine, catalogue),
            *_readings(request.readings, catalogue),
            *_readings(request.past, catalogue, "/past"),
        ]
    )


def check_followup(followup: Followup, catalogue: Catalogue) -> None:
    """Refuse a state nobody knows; raises as `check_report`."""
    _refuse(list(_code("/state", followup.state, catalogue.vocabulary.followups, "state")))


def _refuse(complaints: Sequence[Complaint]) -> None:
    if complaints:
        raise RefusedInput(complaints)


def _machine(machine: Machine, catalogue: Catalogue) -> Iterator[Complaint]:
    for field in _MACHINE_FIELDS:
        code = getattr(machine, field)
        if code is not None:
            codes = catalogue.vocabulary.machine[field]
            yield from _code(f"/machine/{field}", code, codes, field)
    if machine.phases is not None and machine.phases not in (1, 3):
        yield Complaint("/machine/phases", "phases are 1 or 3")


def _readings(
    readings: Sequence[ReadingGiven], catalogue: Catalogue, where: str = "/readings"
) -> Iterator[Complaint]:
    v = catalogue.vocabulary
    for i, reading in enumerate(readings):
        at = f"{where}/{i}"
        if reading.quantity is not None:
            yield from _code(f"{at}/quantity", reading.quantity, v.readings, "quantity")
            quantity = v.readings.get(reading.quantity)
            if quantity is not None and reading.point is not None:
                yield from _code(f"{at}/point", reading.point, quantity.points, "point")
        if reading.condition is not None:
            yield from _code(f"{at}/condition", reading.condition, v.conditions, "condition")


def _observations(
    observations: Sequence[Observation], catalogue: Catalogue
) -> Iterator[Complaint]:
    for i, observation in enumerate(observations):
        at = f"/observations/{i}"
        check = catalogue.checks.get(observation.check)
        if check is None:
            yield from _code(f"{at}/check", observation.check, catalogue.checks, "check")
        else:
            yield from _code(f"{at}/found", observation.found, check.found, "result")


def _attempts(
    at: str, attempts: Sequence[Attempt], catalogue: Catalogue
) -> Iterator[Complaint]:
    v = catalogue.vocabulary
    for i, attempt in enumerate(attempts):
        here = f"{at}/{i}"
        yield from _code(f"{here}/component", attempt.component, v.components, "component")
        yield from _code(f"{here}/action", attempt.action, v.actions, "action")
        yield from _code(f"{here}/result", attempt.result, v.results, "result")
        if attempt.failure is not None:
            yield from _code(f"{here}/failure", attempt.failure, v.failure_modes, "failure")


def _cause(at: str, cause: CauseFound, catalogue: Catalogue) -> Iterator[Complaint]:
    v = catalogue.vocabulary
    yield from _code(f"{at}/component", cause.component, v.components, "component")
    if cause.failure is not None:
        yield from _code(f"{at}/failure", cause.failure, v.failure_modes, "failure")


def _codes(
    at: str, given: Sequence[str], codes: Iterable[str], kind: str
) -> Iterator[Complaint]:
    for i, code in enumerate(given):
        yield from _code(f"{at}/{i}", code, codes, kind)


def _code(at: str, code: str, codes: Iterable[str], kind: str) -> Iterator[Complaint]:
    known = list(codes)
    if code not in known:
        near = nearest_code(code, set(known))
        # The code itself is not echoed: it may be anything at all.
        hint = "; see did_you_mean" if near else ""
        if not near and len(known) <= FEW:
            hint = f"; it is one of {', '.join(known)}"
        yield Complaint(at, f"no such {kind} in the vocabulary{hint}", near)


def check_filters(given: Mapping[str, tuple[str | None, Mapping[str, Any]]]) -> None:
    """Refuse a filter with a code that nobody knows.

    Args:
        given: by the filter's name, its code or None, and the codes there are.

    Raises:
        RefusedInput: with the code that was meant, where one is near.
    """
    faults = [
        Complaint(f"/{name}", f"no such {name}", nearest_code(code, codes))
        for name, (code, codes) in given.items()
        if code is not None and code not in codes
    ]
    if faults:
        raise RefusedInput(faults)
