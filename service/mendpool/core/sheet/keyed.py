"""The pencilled form, keyed in by its letters: five rows, one behind the other.

1. what it did: pairs of letters (``PA SE``), words of one's own after a semicolon;
2. what was read: a letter with its figure, and a unit where it is not the printed one
   (``a 241, e 61.5, k 45 psi``);
3. what was tried, in order, each as part, action, result and minutes (``BR N 1 40, AV T 5``);
4. how it ended: its letter, the part at fault, ``Y`` if a shutdown was left out of action;
5. when: month and year (``11/26``, ``2026-11``).
"""

import re
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.errors import Complaint, RefusedInput

ROWS = (
    "what it did",
    "what was read",
    "what was tried, in order",
    "how it ended",
    "month and year",
)
_PAIR = re.compile(r"[A-Za-z]{2}")
_READING = re.compile(
    r"\s*(?P<letter>[A-Za-z])\s*=?\s*(?P<figure>[-+]?\d+(?:[.,]\d+)?)"
    r"\s*(?P<unit>[^\s\d,;]{1,10})?\s*"
)
_ATTEMPT = re.compile(
    r"\s*(?P<part>[A-Za-z]{2})\s*-?\s*(?P<action>[A-Za-z])\s*-?\s*(?P<result>\d)"
    r"(?:[\s-]+(?P<minutes>\d{1,5})(?:\s*m(?:in)?)?)?\s*"
)
_MONTH = re.compile(
    r"\s*(?:(?P<m>\d{1,2})\s*[/ .-]\s*(?P<y>(?:\d{2}){1,2})"
    r"|(?P<y4>\d{4})\s*[/ .-]\s*(?P<m2>\d{1,2}))\s*"
)
Body = dict[str, Any]


def report_of_rows(rows: Sequence[str], catalogue: Catalogue) -> Body:
    """Return the body of a report from the rows of the form; rows left out say nothing.

    Args:
        rows: at most five, in the form's order.
        catalogue: whose letters they are.

    Raises:
        RefusedInput: with a complaint for each row that can't be read, at ``/row/N``.
    """
    body: Body = {}
    faults: list[Complaint] = []
    if len(rows) > len(ROWS):
        faults.append(Complaint("/row/6", f"there are {len(ROWS)} rows, no more"))
    for number, (row, read) in enumerate(zip(rows, _READERS, strict=False), 1):
        if not row.strip():
            continue
        try:
            body |= read(row.strip(), catalogue)
        except _Unreadable as fault:
            faults.append(Complaint(f"/row/{number}", f"{ROWS[number - 1]}: {fault}"))
    if faults:
        raise RefusedInput(faults)
    return body


def rows_of(text: str) -> list[str]:
    """Split what was keyed in one go, at line ends and at a ``/`` between blanks."""
    return [row.strip() for row in re.split(r"\n|(?:^|\s)/(?=\s|$)", text.strip("\n"))]


class _Unreadable(Exception):
    """A part of a row that stands for nothing; its text says which and what it could be."""


def _did(row: str, catalogue: Catalogue) -> Body:
    keyed, _, words = row.partition(";")
    body: Body = {}
    codes = _codes_of(catalogue.sheet.letters.symptoms)
    pairs = [pair for pair in re.split(r"[\s,]+", keyed) if pair]
    if pairs and all(_PAIR.fullmatch(pair) and pair.upper() in codes for pair in pairs):
        body["symptoms"] = list(dict.fromkeys(codes[pair.upper()] for pair in pairs))
    elif pairs:
        # Words alone, or one letter wrong among letters.
        if all(_PAIR.fullmatch(pair) and pair.isupper() for pair in pairs):
            wrong = next(pair for pair in pairs if pair not in codes)
            raise _Unreadable(f"“{wrong}” is no complaint on the sheet")
        words = f"{keyed.strip()} {words}".strip()
    if words.strip():
        body["complaint"] = words.strip()
    return body


def _read(row: str, catalogue: Catalogue) -> Body:
    by_letter = {reading.letter: reading for reading in catalogue.sheet.readings}
    found = []
    for part in _parts(row):
        match = _READING.fullmatch(part)
        if match is None:
            raise _Unreadable(f"“{part}” should be a letter and a figure, such as a 241")
        wanted = by_letter.get(match["letter"].lower())
        if wanted is None:
            raise _Unreadable(f"“{match['letter']}” is no reading on the sheet")
        reading: Body = {
            "quantity": wanted.quantity,
            "point": wanted.point,
            "value": float(match["figure"].replace(",", ".")),
            "unit": match["unit"] or catalogue.vocabulary.readings[wanted.quantity].unit,
        }
        if wanted.condition is not None:
            reading["condition"] = wanted.condition
        found.append(reading)
    return {"readings": found}


def _tried(row: str, catalogue: Catalogue) -> Body:
    letters = catalogue.sheet.letters
    parts, actions = _codes_of(letters.components), _codes_of(letters.actions)
    results = _codes_of(letters.results)
    attempts = []
    for told in _parts(row):
        match = _ATTEMPT.fullmatch(told)
        if match is None:
            raise _Unreadable(
                f"“{told}” should be part, action, result and minutes, such as BR N 1 40"
            )
        attempt: Body = {
            "component": _code(parts, match["part"], "part"),
            "action": _code(actions, match["action"], "action"),
            "result": _code(results, match["result"], "result"),
        }
        if match["minutes"]:
            attempt["minutes"] = int(match["minutes"])
        attempts.append(attempt)
    return {"attempts": attempts}


def _ended(row: str, catalogue: Catalogue) -> Body:
    letters = catalogue.sheet.letters
    first, *rest = re.split(r"[\s,]+", row.strip())
    body: Body = {"outcome": _code(_codes_of(letters.outcomes), first, "end")}
    for word in rest:
        if word.upper() in ("Y", "N"):
            body["protection_defeated"] = word.upper() == "Y"
        elif "cause" in body:
            raise _Unreadable(f"“{word}” is one too many; one part at fault is enough")
        else:
            body["cause"] = {"component": _code(_codes_of(letters.components), word, "part")}
    return body


def _when(row: str, catalogue: Catalogue) -> Body:
    del catalogue
    match = _MONTH.fullmatch(row)
    month = int((match["m"] or match["m2"]) if match else 0)
    if match is None or not 1 <= month <= 12:
        raise _Unreadable(f"“{row}” should be a month and a year, such as 11/26")
    year = int(match["y4"] or match["y"])
    return {"happened": f"{year + 2000 if year < 100 else year:04d}-{month:02d}"}


_READERS: tuple[Callable[[str, Catalogue], Body], ...] = (_did, _read, _tried, _ended, _when)


def _parts(row: str) -> list[str]:
    """Split at semicolons and at commas that are no decimal comma."""
    return [part.strip() for part in re.split(r";|,(?!\d)|(?<!\d),", row) if part.strip()]


def _codes_of(letters: Mapping[str, str]) -> dict[str, str]:
    return {letter: code for code, letter in letters.items()}


def _code(codes: Mapping[str, str], typed: str, what: str) -> str:
    found = codes.get(typed.upper())
    if found is None:
        raise _Unreadable(f"“{typed}” is no {what} on the sheet")
    return found
