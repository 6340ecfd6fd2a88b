"""Routes of words that were put back: a member's own, and nobody else's."""

from contextlib import suppress
from typing import Annotated

from fastapi import APIRouter, Depends
from starlette.responses import Response

from mendpool.api.bodies import JsonBody, json_body
from mendpool.api.context import Asker, Running
from mendpool.api.replies import reply
from mendpool.core.catalogue.typed import typed
from mendpool.core.record.correction import Corrections, one_word
from mendpool.store.corrections import Correction
from mendpool.usecases.corrections import keep_corrections

router = APIRouter(prefix="/v1/corrections", tags=["pool"])


@router.post("")
def put_back(
    running: Running, asker: Asker, body: Annotated[JsonBody, Depends(json_body)]
) -> Response:
    """Tell the stewards of words that the scrubber took and that are the trade's.

    Stewards see words and how many people put them back, never who. The same again is
    harmless. Returns all of one's own.
    """
    told = typed(Corrections, body.value)
    return _told(keep_corrections(running.place.store, asker, told))


@router.get("")
def own(running: Running, asker: Asker) -> Response:
    """Return the words that one put back oneself."""
    return _told(running.place.store.corrections_of(asker.id))


@router.delete("/{word}", status_code=204)
def take_back(word: str, running: Running, asker: Asker) -> Response:
    """Erase a word of one's own; one that is not there too."""
    with suppress(ValueError):  # what can be no word is not there
        running.place.store.take_back_correction(asker.id, one_word(word))
    return Response(status_code=204)


def _told(words: list[Correction]) -> Response:
    return reply({"words": [{"word": word, "kind": kind} for word, kind in words]})
