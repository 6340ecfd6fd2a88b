"""What the fault sheet is headed with, wherever it is drawn: as text, as a page, on a phone."""

from mendpool.core.sheet.keyed import ROWS
from mendpool.core.sheet.made import Sheet

TITLE = "Fault sheet"
SAFE = "Be safe"
FIRST = "First, one minute"
FIRST_OF_ALL = "First of all"
OFTEN = "Often"
GOOD = "Good values"
CALL = (
    "If that has not brought it back, stop and call someone who works on such sets: say what "
    "was found, tested and ruled out. Fixed wiring and gas are for those licensed for it."
)
FORM = "Report form"
PENCIL = "By pencil, in letters."
KEY_IN = "Keyed in later with: mendpool report --from-sheet -"
DID, READ, TRIED, ENDED, WHEN = (row[:1].upper() + row[1:] for row in ROWS)
"""The rows of the form, as they are keyed in."""
OWN_WORDS = "In your words"
PLACES = "places as on the front"
OF_A_TRY = ("part", "what", "result", "minutes")
AT_FAULT = "part at fault"
LEFT_OUT = "shutdown or breaker left out of action?"
YES_NO = "Y / N"
ATTEMPT_LINES = 4
"""Lines of the form for what was tried, two to a line."""


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
