"""The pencilled form of the fault sheet, keyed in on the line or row by row."""

from typing import Any

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.errors import RefusedInput
from mendpool.core.sheet.keyed import ROWS, report_of_rows, rows_of
from mendpool_field import console
from mendpool_field.errors import BadUsage


def keyed_report(typed: str, catalogue: Catalogue) -> dict[str, Any]:
    """Return what the form says; ``-`` asks for its rows, or reads them from a pipe.

    Raises:
        BadUsage: a row that can't be read, with what it should be.
    """
    if typed.strip() != "-":
        rows = rows_of(typed)
    elif console.someone_is_there():
        return _asked(catalogue)
    else:
        rows = rows_of(console.read_file("-"))
    try:
        return report_of_rows(rows, catalogue)
    except RefusedInput as error:
        told = " ".join(
            f"Row {fault.at.rsplit('/', 1)[-1]}, {fault.says}." for fault in error.errors
        )
        raise BadUsage(
            told, "Key the five rows again, or one by one with mendpool report --from-sheet -"
        ) from None


def _asked(catalogue: Catalogue) -> dict[str, Any]:
    """Ask row by row; one that can't be read is asked again."""
    rows: list[str] = []
    for number, title in enumerate(ROWS, 1):
        while True:
            row = console.read_line(f"Row {number}, {title}? ")
            try:
                report_of_rows([*([""] * (number - 1)), row], catalogue)
            except RefusedInput as error:
                console.talk(f"! {error.errors[0].says}.")
                continue
            rows.append(row)
            break
    return report_of_rows(rows, catalogue)
