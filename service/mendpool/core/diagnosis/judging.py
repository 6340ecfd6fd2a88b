"""Readings judged: by the plate, beside this set's past and sets like it, and together.

One function for the service and for the command without signal, so that both give the same
bytes.
"""

from collections.abc import Mapping, Sequence
from typing import Any

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.codes import check_judge
from mendpool.core.diagnosis.cautions import Situation, cautions_for
from mendpool.core.diagnosis.healthy import with_good_ones
from mendpool.core.diagnosis.shown import bare, pattern_shown
from mendpool.core.diagnosis.understand import judge_readings, understood_readings
from mendpool.core.evidence.norms import Norm
from mendpool.core.readings.judge import JudgedReading
from mendpool.core.readings.together import Together, together
from mendpool.core.record.answer import CautionShown
from mendpool.core.record.machine import Machine
from mendpool.core.record.report import JudgeRequest

_NO_NORMS: Mapping[str, Norm] = {}


def judge_all(
    request: JudgeRequest, catalogue: Catalogue, norms: Mapping[str, Norm] = _NO_NORMS
) -> dict[str, Any]:
    """Return the whole answer to a request to judge readings, what can hurt first.

    Args:
        norms: what good sets read, from the newest fit.

    Raises:
        RefusedInput: unknown codes; readings, or past ones, that can't be understood.
    """
    check_judge(request, catalogue)
    judged = judge_readings(request.readings, request.machine, catalogue)
    past = understood_readings(request.past, request.machine, catalogue, "/past")
    patterns = together(judged, request.machine, catalogue.patterns)
    return {
        "cautions": [
            caution.model_dump(exclude_unset=True)
            for caution in _cautions(judged, patterns, request.machine, catalogue)
        ],
        "readings": [
            bare(with_good_ones(j.judged, request.machine, catalogue, past, norms)).model_dump(
                mode="json", by_alias=True, exclude_unset=True
            )
            for j in judged
        ],
        "together": [pattern_shown(pattern).model_dump(mode="json") for pattern in patterns],
    }


def _cautions(
    judged: Sequence[JudgedReading],
    patterns: Sequence[Together],
    machine: Machine,
    catalogue: Catalogue,
) -> tuple[CautionShown, ...]:
    dangers = [*(j.danger for j in judged), *(p.danger for p in patterns)]
    return cautions_for(
        catalogue,
        Situation(
            machine=machine,
            readings=frozenset(
                f"{j.judged.quantity}@{j.judged.point}:{j.judged.verdict}" for j in judged
            ),
            topics=frozenset(topic for pattern in patterns for topic in pattern.cautions),
            dangers=frozenset(danger for danger in dangers if danger is not None),
            whole=False,
        ),
    )
