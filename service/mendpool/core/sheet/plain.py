"""The fault sheet as plain text: front and back, for a printer that knows nothing else."""

import textwrap
from collections.abc import Iterable, Sequence

from mendpool.core.sheet import words
from mendpool.core.sheet.made import Choice, Complaint, Good, Sheet
from mendpool.core.sheet.words import ATTEMPT_LINES, CALL, unit_words, what_it_is_from

WIDTH, LINES = 94, 88
"""A side of A4 or Letter at twelve characters and eight lines an inch, with its margins."""
FORM_FEED = "\f"


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
    yield from _wrap(f"{words.TITLE.upper()}: {name}. {sheet.plate}.", width)
    yield words.SAFE.upper()
    for caution in sheet.cautions:
        yield from _wrap(caution, width, "- ")
    yield ""
    yield from _wrap(f"{words.FIRST.upper()}: {sheet.walk_round}", width)
    for complaint in sheet.complaints:
        yield ""
        yield from _complaint(complaint, width)
    yield ""
    yield from _wrap(CALL, width)
    yield words.GOOD.upper()
    yield from _columns([_good(good) for good in sheet.good], width, least=38)
    yield ""
    yield from _wrap(what_it_is_from(sheet), width)


def _complaint(complaint: Complaint, width: int) -> Iterable[str]:
    yield from _wrap(f"{complaint.letters}  {complaint.says.upper()}", width, rest="    ")
    for safe in complaint.safe:
        yield from _wrap(f"{words.FIRST_OF_ALL}: {safe}", width, "    ")
    for number, step in enumerate(complaint.steps, 1):
        yield from _wrap(step, width, f"  {number} ", "    ")
    if complaint.often:
        yield from _wrap(f"{words.OFTEN}: {'; '.join(complaint.often)}.", width, "    ")


def _good(good: Good) -> str:
    return f"{good.letter}  {good.says}: {good.band} {unit_words(good.unit)}".rstrip()


def _back(sheet: Sheet, name: str, width: int) -> Iterable[str]:
    head = f"{words.FORM.upper()}: {name}. {words.PENCIL} {words.KEY_IN}"
    yield from _wrap(head, width)
    yield ""
    blank = max(8, width - 26)
    yield f"1 {words.DID.upper()}  ___ ___ ___"
    yield from _wrap(f"{words.OWN_WORDS}: {'_' * (blank - 6)}", width, "  ")
    yield from _listed(sheet.form.complaints, width, least=38)
    yield ""
    letters = [f"{good.letter} ______ {unit_words(good.unit)}" for good in sheet.good]
    heading = f"2 {words.READ.upper()} (letters and {words.PLACES})"
    yield from _wrap(heading, width, rest="  ")
    yield from _columns(letters, width, least=18)
    yield ""
    heading = f"3 {words.TRIED.upper()}: {', '.join(words.OF_A_TRY)}"
    yield from _wrap(heading, width, rest="  ")
    lines = [f"{n}. ____  __  __  _____" for n in range(1, 2 * ATTEMPT_LINES + 1)]
    yield from _columns(lines, width, least=36)
    yield from _listed(sheet.form.parts, width, least=28)
    yield from _listed(sheet.form.actions, width, least=18)
    yield from _listed(sheet.form.results, width, least=38)
    yield ""
    heading = f"4 {words.ENDED.upper()}  ___   {words.AT_FAULT.upper()}  ____"
    yield from _wrap(heading, width, rest="  ")
    yield from _wrap(f"A {words.LEFT_OUT.upper()}  {words.YES_NO}", width, "  ")
    yield from _listed(sheet.form.outcomes, width, least=38)
    yield ""
    yield f"5 {words.WHEN.upper()}  ____ / ____"


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
