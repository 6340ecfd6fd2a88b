"""The fault sheet as plain text: front and back, for a printer that knows nothing else."""

import textwrap
from collections.abc import Iterable, Sequence

from mendpool.core.sheet.made import Choice, Complaint, Good, Sheet

WIDTH, LINES = 94, 88
"""A side of A4 or Letter at twelve characters and eight lines an inch, with its margins."""
FORM_FEED = "\f"
CALL = (
    "If that has not brought it back, stop and call someone who works on such sets: say what "
    "was found, tested and ruled out. Fixed wiring and gas are for those licensed for it."
)
KEY_IN = "Keyed in later with: mendpool report --from-sheet -"
ATTEMPT_LINES = 4


def sheet_text(sheet: Sheet, name: str, width: int = WIDTH) -> str:
    """Return front and back, a form feed between them.

    Args:
        sheet: what it says.
        name: the set's short name, for its heading.
        width: columns, 40 at least.
    """
    front = [*_front(sheet, name, width)]
    back = [*_back(sheet, name, width)]
    return "\n".join(front) + "\n" + FORM_FEED + "\n".join(back) + "\n"


def _front(sheet: Sheet, name: str, width: int) -> Iterable[str]:
    yield from _wrap(f"FAULT SHEET: {name}. {sheet.plate}.", width)
    yield "BE SAFE"
    for caution in sheet.cautions:
        yield from _wrap(caution, width, "- ")
    yield ""
    yield from _wrap(f"FIRST, ONE MINUTE: {sheet.walk_round}", width)
    for complaint in sheet.complaints:
        yield ""
        yield from _complaint(complaint, width)
    yield ""
    yield from _wrap(CALL, width)
    yield "GOOD VALUES"
    yield from _columns([_good(good) for good in sheet.good], width, least=38)
    yield ""
    yield from _wrap(what_it_is_from(sheet), width)


def _complaint(complaint: Complaint, width: int) -> Iterable[str]:
    yield from _wrap(f"{complaint.letters}  {complaint.says.upper()}", width, rest="    ")
    for safe in complaint.safe:
        yield from _wrap(f"First of all: {safe}", width, "    ")
    for number, step in enumerate(complaint.steps, 1):
        yield from _wrap(step, width, f"  {number} ", "    ")
    if complaint.often:
        yield from _wrap(f"Often: {'; '.join(complaint.often)}.", width, "    ")


def _good(good: Good) -> str:
    return f"{good.letter}  {good.says}: {good.band} {unit_words(good.unit)}".rstrip()


def _back(sheet: Sheet, name: str, width: int) -> Iterable[str]:
    yield from _wrap(f"REPORT FORM: {name}. By pencil, in letters. {KEY_IN}", width)
    yield ""
    blank = max(8, width - 26)
    yield "1 WHAT IT DID  ___ ___ ___"
    yield from _wrap(f"In your words: {'_' * (blank - 6)}", width, "  ")
    yield from _listed(sheet.form.complaints, width, least=38)
    yield ""
    letters = [f"{good.letter} ______ {unit_words(good.unit)}" for good in sheet.good]
    yield from _wrap("2 WHAT WAS READ (letters and places as on the front)", width, rest="  ")
    yield from _columns(letters, width, least=18)
    yield ""
    heading = "3 WHAT WAS TRIED, IN ORDER: part, what, result, minutes"
    yield from _wrap(heading, width, rest="  ")
    lines = [f"{n}. ____  __  __  _____" for n in range(1, 2 * ATTEMPT_LINES + 1)]
    yield from _columns(lines, width, least=36)
    yield from _listed(sheet.form.parts, width, least=28)
    yield from _listed(sheet.form.actions, width, least=18)
    yield from _listed(sheet.form.results, width, least=38)
    yield ""
    yield from _wrap("4 HOW IT ENDED  ___   PART AT FAULT  ____", width, rest="  ")
    yield from _wrap("A SHUTDOWN OR BREAKER LEFT OUT OF ACTION?  Y / N", width, "  ")
    yield from _listed(sheet.form.outcomes, width, least=38)
    yield ""
    yield "5 MONTH AND YEAR  ____ / ____"


def unit_words(unit: str) -> str:
    """Return a unit as it is printed."""
    return {"degC": "deg C", "Mohm": "megohm", "1": ""}.get(unit, unit)


def what_it_is_from(sheet: Sheet) -> str:
    """Return what stands behind the sheet, in a sentence."""
    behind = (
        f"the trade catalogue and {sheet.reports} reports"
        if sheet.reports
        else "the trade catalogue alone, common practice where no source is named"
    )
    return f"From {behind}. Catalogue {sheet.catalogue[:8]}. Your local codes come first."


def _listed(choices: Sequence[Choice], width: int, least: int) -> Iterable[str]:
    return _columns([f"{choice.letters} {choice.says}" for choice in choices], width, least)


def _columns(texts: Sequence[str], width: int, least: int) -> Iterable[str]:
    """Set short texts in as many columns as fit, read downwards; a long one wraps."""
    count = max(1, (width + 2) // (least + 2))
    wide = (width - 2 * (count - 1)) // count
    cells = [line for text in texts for line in _wrap(text, wide, rest="   ")]
    rows = -(-len(cells) // count)
    for row in range(rows):
        line = "  ".join(cell.ljust(wide) for cell in cells[row::rows])
        yield line.rstrip()


def _wrap(text: str, width: int, first: str = "", rest: str | None = None) -> list[str]:
    return textwrap.wrap(
        text,
        width,
        initial_indent=first,
        subsequent_indent=" " * len(first) if rest is None else rest,
        break_on_hyphens=False,
    )
