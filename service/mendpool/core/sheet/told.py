"""The fault sheet as JSON, for whoever draws it: what it says and its headings."""

from typing import Any

from mendpool.core.sheet import words
from mendpool.core.sheet.made import Sheet
from mendpool.core.sheet.words import unit_words, what_it_is_from

Body = dict[str, Any]


def sheet_told(sheet: Sheet, name: str) -> Body:
    """Return the sheet of a set under its short name; the same as the printed one says.

    Returns:
        ``name``, and the fields of `Sheet`: ``plate``, ``cautions``, ``walk_round``,
        ``complaints``, ``good`` (each with its ``printed_unit``), ``form``, ``reports``,
        ``catalogue``. In ``words`` stand the headings: of the front ``title``, ``safe``,
        ``first``, ``first_of_all``, ``often``, ``good``, ``call`` (what to do if nothing
        helped) and ``from`` (what stands behind the sheet); of the back ``form``, ``pencil``,
        ``key_in``, the five ``rows``, ``own_words``, ``places``, ``of_a_try``, ``at_fault``,
        ``left_out``, ``yes_no``. ``attempt_lines`` is how many lines the form has for tries,
        two on each.
    """
    body: Body = {"name": name, **_plain(sheet)}
    for good in body["good"]:
        good["printed_unit"] = unit_words(good["unit"])
    body["words"] = {
        "title": words.TITLE,
        "safe": words.SAFE,
        "first": words.FIRST,
        "first_of_all": words.FIRST_OF_ALL,
        "often": words.OFTEN,
        "good": words.GOOD,
        "call": words.CALL,
        "from": what_it_is_from(sheet),
        "form": words.FORM,
        "pencil": words.PENCIL,
        "key_in": words.KEY_IN,
        "rows": [words.DID, words.READ, words.TRIED, words.ENDED, words.WHEN],
        "own_words": words.OWN_WORDS,
        "places": words.PLACES,
        "of_a_try": list(words.OF_A_TRY),
        "at_fault": words.AT_FAULT,
        "left_out": words.LEFT_OUT,
        "yes_no": words.YES_NO,
    }
    body["attempt_lines"] = words.ATTEMPT_LINES
    return body


def _plain(value: Any) -> Any:  # noqa: ANN401 - named tuples of whatever depth
    if hasattr(value, "_asdict"):
        return {field: _plain(held) for field, held in value._asdict().items()}
    return [_plain(held) for held in value] if isinstance(value, tuple) else value
