"""The fault sheet as a page to print: two sides of A4 or Letter, black and white, no script."""

from collections.abc import Iterable, Mapping, Sequence
from html import escape
from typing import Literal

from mendpool.core.sheet import words
from mendpool.core.sheet.made import Choice, Complaint, Sheet
from mendpool.core.sheet.words import ATTEMPT_LINES, CALL, unit_words, what_it_is_from

Paper = Literal["A4", "letter"]

# Letter is 18 mm shorter than A4, so its print is a little smaller. Nine points is what can be
# read at arm's length by torch and still fits the side.
_SIZES: Mapping[Paper, tuple[str, str]] = {"A4": ("A4", "9"), "letter": ("letter", "8.6")}
_STYLE = """
@page { size: %s portrait; margin: 8mm }
* { box-sizing: border-box }
body { font: %spt/1.16 sans-serif; color: #000; background: #fff; margin: 0 auto;
  max-width: 194mm }
h1 { font-size: 13pt; margin: 0 0 .5mm }
h2 { font-size: 10pt; margin: 1.2mm 0 .5mm; border-bottom: .4mm solid #000 }
p, ol, ul, dl { margin: 0 0 .6mm }
ol, ul { padding-left: 5mm }
.two { columns: 2; column-gap: 5mm }
.two section { break-inside: avoid }
.often, .from { font-style: italic }
.from { font-size: 8pt }
table { border-collapse: collapse; width: 100%% }
td, th { border: .2mm solid #000; padding: .3mm 1mm; text-align: left; font-weight: normal;
  vertical-align: top }
td.blank { height: 5.4mm; min-width: 12mm }
td b { white-space: nowrap }
.lists { columns: 2; column-gap: 4mm; font-size: 7.8pt; line-height: 1.1;
  margin-top: .5mm }
.parts { columns: 4 }
.actions { columns: 5 }
.lists p { margin: 0; padding-left: 6mm; text-indent: -6mm; break-inside: avoid }
.back { break-before: page }
@media screen { body { padding: 4mm } }
"""


def sheet_page(sheet: Sheet, name: str, paper: Paper = "A4") -> str:
    """Return the sheet as a whole HTML document that needs nothing from elsewhere.

    Args:
        sheet: what it says.
        name: the set's short name; escaped here, as everything is.
        paper: what it is printed on.
    """
    title = f"{words.TITLE}: {escape(name)}"
    return "".join(
        (
            '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">',
            '<meta name="viewport" content="width=device-width, initial-scale=1">',
            f"<title>{title}</title><style>{_STYLE % _SIZES[paper]}</style></head><body>\n",
            f"<main><h1>{title}</h1><p>{escape(sheet.plate)}.</p>\n",
            *_front(sheet),
            '</main>\n<section class="back">',
            f"<h1>{words.FORM}: {escape(name)}</h1>",
            f"<p>{words.PENCIL} {escape(words.KEY_IN)}</p>\n",
            *_back(sheet),
            "</section></body></html>\n",
        )
    )


def _front(sheet: Sheet) -> Iterable[str]:
    yield f"<h2>{words.SAFE}</h2><ul>"
    yield from (f"<li>{escape(caution)}</li>" for caution in sheet.cautions)
    yield f"</ul><p><b>{words.FIRST}.</b> {escape(sheet.walk_round)}</p>\n"
    yield '<div class="two">'
    yield from (_complaint(complaint) for complaint in sheet.complaints)
    yield f"</div>\n<p><b>{escape(CALL)}</b></p>\n<h2>{words.GOOD}</h2>"
    yield '<div class="two"><table>'
    for good in sheet.good:
        band = f"{good.band} {unit_words(good.unit)}".strip()
        yield (
            f"<tr><th scope=row>{good.letter}</th><td>{escape(good.says)}</td>"
            f"<td><b>{escape(band)}</b></td></tr>"
        )
    yield f'</table></div>\n<p class="from">{escape(what_it_is_from(sheet))}</p>\n'


def _complaint(complaint: Complaint) -> str:
    safe = "".join(
        f"<p><b>{words.FIRST_OF_ALL}:</b> {escape(text)}</p>" for text in complaint.safe
    )
    steps = "".join(f"<li>{escape(step)}</li>" for step in complaint.steps)
    often = (
        f'<p class="often">{words.OFTEN}: {escape("; ".join(complaint.often))}.</p>'
        if complaint.often
        else ""
    )
    head = f"<h2>{complaint.letters} {escape(complaint.says)}</h2>"
    return f"<section>{head}{safe}<ol>{steps}</ol>{often}</section>"


def _back(sheet: Sheet) -> Iterable[str]:
    form = sheet.form
    yield f"<h2>1 {words.DID}</h2>"
    yield _blanks(("letters", "letters", "letters", words.OWN_WORDS.lower())) + _lists(
        form.complaints
    )
    yield f"<h2>2 {words.READ} ({words.PLACES})</h2>"
    # Half of the readings a row, so that a figure fits with a thick pencil.
    half = -(-len(sheet.good) // 2)
    for part in (sheet.good[:half], sheet.good[half:]):
        yield _blanks([f"{good.letter} {unit_words(good.unit)}".strip() for good in part])
    yield f"<h2>3 {words.TRIED}</h2>"
    heads = words.OF_A_TRY * 2
    rows = _empty_row(len(heads)) * ATTEMPT_LINES
    yield f"<table>{_heads(heads)}{rows}</table>"
    yield _lists(form.parts, "parts") + _lists(form.actions, "actions") + _lists(form.results)
    yield f"<h2>4 {words.ENDED}, and 5 when</h2>"
    left_out = f"{words.LEFT_OUT} {words.YES_NO}"
    yield _blanks(("4 end", words.AT_FAULT, left_out, "5 month", "year"))
    yield _lists(form.outcomes)


def _blanks(heads: Sequence[str]) -> str:
    return f"<table>{_heads(heads)}{_empty_row(len(heads))}</table>"


def _heads(heads: Sequence[str]) -> str:
    return "<tr>" + "".join(f"<th scope=col>{escape(head)}</th>" for head in heads) + "</tr>"


def _empty_row(cells: int) -> str:
    return "<tr>" + '<td class="blank"></td>' * cells + "</tr>"


def _lists(choices: Sequence[Choice], kind: str = "") -> str:
    items = "".join(f"<p><b>{c.letters}</b> {escape(c.says)}</p>" for c in choices)
    return f'<div class="lists {kind}">{items}</div>\n'
