"""`mendpool copy`: hand a copy of the pool to another member of it, on a stick."""

from pathlib import Path
from typing import Annotated

import typer

from mendpool_field import console, options
from mendpool_field.errors import BadUsage

app = typer.Typer(
    help="Hand your copy of the pool to another member, on a stick.",
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    add_completion=False,
)
File = Annotated[str, typer.Argument(metavar="FILE", help="On the stick.")]


@app.command()
def write(file: File, as_json: options.Json = False) -> None:
    """Write your copy to a file. For members of your pool only: it holds the reports."""
    from mendpool_field.copy_place import CopyPlace, age_text
    from mendpool_field.copy_stick import write_stick

    known = console.settings()
    place = CopyPlace(known.home)
    with place.syncing() as ours:
        state = place.state()
        if not ours or state is None:
            raise BadUsage(
                "Another mendpool is at the copy." if not ours else "There is no copy yet.",
                "Try again in a moment." if not ours else "mendpool sync fetches one.",
            )
        head = write_stick(place, state, Path(file), console.catalogue(known))
    console.show(
        head, f"Written: your copy of {age_text(state, console.now_s())}.", as_json=as_json
    )


@app.command()
def read(file: File, as_json: options.Json = False) -> None:
    """Take a copy from a file, if it is of your pool and newer than your own."""
    from dataclasses import asdict

    from mendpool_field.commands_sync import copy_sync_of
    from mendpool_field.copy_place import CopyPlace, reports_text

    known = console.settings()
    if not Path(file).is_file():
        raise BadUsage(f"There is no file {file}.", "Check its name, and that the stick is in.")
    had_none = CopyPlace(known.home).state() is None
    brought = copy_sync_of(known).take_stick(Path(file))
    text = {
        "busy": "Another mendpool is at the copy.",
        "older": f"Your own copy is as new or newer: {reports_text(brought.reports)}.",
    }.get(brought.state, f"Your copy holds {reports_text(brought.reports)} now.")
    console.show(asdict(brought), text, as_json=as_json)
    if had_none and brought.state not in {"busy", "older"}:
        console.talk(
            "You had no copy, so nobody could tell whether this one is of your pool. "
            "The next mendpool sync will say."
        )
