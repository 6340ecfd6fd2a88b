"""Routes of what the pool knows beyond one question."""

from typing import Annotated

from fastapi import APIRouter, Depends, Query
from starlette.responses import Response

from mendpool.api.context import Asker, Running, known_parameters, signed_in
from mendpool.api.replies import reply
from mendpool.usecases import known

router = APIRouter(prefix="/v1", tags=["known"])
Code = Annotated[str | None, Query(max_length=60)]
_FIX = ("component", "action")
_KIND = ("fuel", "excitation", "cooling")


@router.get("/durability", dependencies=[Depends(signed_in), Depends(known_parameters(*_FIX))])
def durability(
    running: Running, asker: Asker, component: Code = None, action: Code = None
) -> Response:
    """Return how long a fix holds: Kaplan and Meier's curve over the follow-ups.

    With `component` and `action`: `steps` of the curve with 90 % ranges and numbers at risk,
    and `at` 3, 6, 12 and 24 months; a share is null where fewer than five repairs were
    followed or three seen that long. Otherwise the fixes that were followed most, at twelve
    months. Get-bys are never among them. `reports` says how many were counted: in a pool of up
    to 2,048 all that are held now, in a larger one all at the newest fit (at most 5 % ago) or
    the last withdrawal.
    """
    return reply(known.how_long(running.place, component, action))


@router.get("/failing", dependencies=[Depends(signed_in), Depends(known_parameters(*_KIND))])
def failing(
    running: Running,
    asker: Asker,
    fuel: Code = None,
    excitation: Code = None,
    cooling: Code = None,
) -> Response:
    """Return what fails on sets like one, by all reports and as the catalogue expects it.

    `reports` of `people` tell of trouble with such sets, in `known` of them the fault is known,
    and of those are the `items`' shares; `by_month` counts repairs from January to December. A
    report that does not say what the set is stays in. `narrowed_by` names what was gone by;
    by size it is not, for no derived case has it. As fresh as the answers of `/v1/durability`.
    """
    plate = {"fuel": fuel, "excitation": excitation, "cooling": cooling}
    return reply(known.what_fails(running.place, plate))
