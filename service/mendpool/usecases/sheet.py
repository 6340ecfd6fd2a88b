"""The fault sheet of a nameplate, by what the pool has learned."""

from typing import Any

from mendpool.core.catalogue.codes import check_question
from mendpool.core.record.report import Question, SheetRequest
from mendpool.core.sheet.made import sheet_of
from mendpool.core.sheet.told import sheet_told
from mendpool.usecases.workplace import Workplace


def sheet(place: Workplace, request: SheetRequest) -> dict[str, Any]:
    """Return what stands on the sheet of a set, for whoever draws it.

    It goes by the newest fit and by no report alone, so it is the same for everyone who asks
    with the same plate until the next fit.

    Raises:
        RefusedInput: unknown codes on the plate.
    """
    check_question(Question(machine=request.machine, complaint="-"), place.catalogue)
    place.learned.catch_up()
    return sheet_told(sheet_of(request.machine, place.learned.engine), request.name)
