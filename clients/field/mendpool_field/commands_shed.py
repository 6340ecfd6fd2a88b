"""`mendpool sheet`, `handon` and `before-off`: for the shed, on paper and down the phone."""

from collections.abc import Sequence
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any

import typer

from mendpool_field import console, options
from mendpool_field.errors import BadUsage


class Paper(StrEnum):
    """What the page is printed on."""

    A4 = "A4"
    LETTER = "letter"


SetName = Annotated[
    str,
    typer.Argument(
        metavar="SET", help="The set, by its short name.", autocompletion=options.set_names
    ),
]


def sheet(
    name: SetName,
    page: Annotated[
        str | None,
        typer.Option(
            "--page", metavar="FILE", help="Write a page to print, as HTML; - for stdout."
        ),
    ] = None,
    paper: Annotated[
        Paper,
        typer.Option("--paper", help="What the page is printed on.", case_sensitive=False),
    ] = Paper.A4,
    as_json: options.Json = False,
) -> None:
    """Write the fault sheet to tape inside the enclosure door.

    Print it with --page sheet.html, or as text: mendpool sheet barn | lpr -o cpi=12 -o lpi=8
    """
    from mendpool.core.record.machine import Machine
    from mendpool.core.sheet.made import sheet_of
    from mendpool.core.sheet.page import sheet_page
    from mendpool.core.sheet.plain import WIDTH, sheet_text
    from mendpool.core.sheet.told import sheet_told
    from mendpool_field.checking import typed
    from mendpool_field.sets import set_named

    known = console.settings()
    plate = set_named(known.home, name)
    made = sheet_of(typed(Machine, plate), console.engine(known))
    if page is not None:
        whole = sheet_page(made, name, "A4" if paper is Paper.A4 else "letter")
        if page == "-":
            console.say(whole.rstrip("\n"))
            return
        _write(page, whole)
        console.talk(f"Written to {page}: front and back, to print on both sides.")
        return
    width = min(WIDTH, console.width()) if console.draws_to_someone() else WIDTH
    console.show(
        sheet_told(made, name), sheet_text(made, name, width).rstrip("\n"), as_json=as_json
    )


def handon(
    on: options.On = None,
    as_json: options.Json = False,
) -> None:
    """Write the half page to read down the phone: what was found, tested, ruled out.

    mendpool handon --on barn
    """
    from mendpool_field.handing_on import handed_on, handed_on_text

    known = console.settings()
    catalogue = console.catalogue(known)
    found = handed_on(known.home, on, catalogue, console.here(known).answer)
    console.show(found, handed_on_text(found, console.width()), as_json=as_json)


def before_off(
    name: SetName,
    part: Annotated[
        str | None, typer.Argument(metavar="PART", help="What comes off, in your own words.")
    ] = None,
    back: Annotated[
        bool, typer.Option("--back", help="Put it back, one thing at a time, last off first.")
    ] = False,
    as_json: options.Json = False,
) -> None:
    """Keep tags, wire colours, links and settings before a part comes off; private.

    mendpool before-off barn "regulator", then without a part to see them in reverse.
    """
    from mendpool_field.before_off import Kept, backwards_text, keep_lines, put_back
    from mendpool_field.sets import set_named

    known = console.settings()
    set_named(known.home, name)
    kept = Kept(known.home, name)
    if part is not None:
        if back:
            raise BadUsage(
                "A part and --back don't go together.",
                f"Try: mendpool before-off {name} --back",
            )
        keep_lines(kept, part)
        return
    if not kept.open:
        raise BadUsage(
            f"Nothing of {name} is noted as off.",
            f'Before a part comes off: mendpool before-off {name} "regulator"',
        )
    if back:
        put_back(kept)
        return
    body = {"set": name, "off": kept.open}
    console.show(body, backwards_text(kept, console.width()), as_json=as_json)


def _write(name: str, text: str) -> None:
    try:
        Path(name).write_text(text, "utf-8")
    except OSError as error:
        says = f"{name} can't be written: {error.strerror}."
        raise BadUsage(says, "Name another file, or - to print it.") from error


COMMANDS: Sequence[Any] = (sheet, handon)
BEFORE_OFF = before_off
