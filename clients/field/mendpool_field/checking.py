"""Check a body here, by the rules the service holds too, before anything is sent or kept."""

from collections.abc import Mapping
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.codes import check_report
from mendpool.core.diagnosis.understand import judge_readings
from mendpool.core.errors import Complaint, RefusedInput
from mendpool.core.record.report import Report

M = TypeVar("M", bound=BaseModel)
_MONTH = "write the month as YYYY-MM, such as 2026-10"
_CODE = "a code is small letters, digits and hyphens, such as no-output"
_BRANCHES = {"float", "int", "str", "bool"}


def typed(model: type[M], body: Mapping[str, Any]) -> M:
    """Return a body as a record.

    Raises:
        RefusedInput: a complaint for each thing wrong, at its JSON Pointer.
    """
    try:
        return model.model_validate(dict(body))
    except ValidationError as error:
        faults: dict[str, Complaint] = {}
        for fault in error.errors(include_url=False, include_input=False):
            complaint = _complaint(fault)
            faults.setdefault(complaint.at, complaint)  # one for all branches of a union
        raise RefusedInput(list(faults.values())) from None


def check_whole_report(body: Mapping[str, Any], catalogue: Catalogue) -> None:
    """Check a report's shape, its codes and its readings.

    Raises:
        RefusedInput: as `typed`.
    """
    report = typed(Report, body)
    check_report(report, catalogue)
    judge_readings(report.readings, report.machine, catalogue)


def _complaint(fault: Any) -> Complaint:  # noqa: ANN401 - Pydantic's own
    loc = [str(p) for p in fault["loc"] if not _is_branch(p)]
    at = "".join(f"/{part}" for part in loc)
    if fault["type"] == "extra_forbidden":
        return Complaint(at, "no such field; a typing mistake?")
    if fault["type"] == "missing":
        return Complaint(at, "this is needed")
    if fault["type"] == "string_pattern_mismatch":
        return Complaint(at, _MONTH if at.endswith("/happened") else _CODE)
    return Complaint(at, str(fault["msg"]).removeprefix("Value error, "))


def _is_branch(part: object) -> bool:
    return isinstance(part, str) and ("[" in part or part in _BRANCHES)
