"""The options that several commands share, written once so that they never differ."""

from typing import Annotated

import typer


def set_names(incomplete: str) -> list[str]:
    """Return the sets whose names begin so, for the shell; none where unreadable."""
    from mendpool_field import console
    from mendpool_field.sets import read_sets

    try:
        names = list(read_sets(console.settings().home))
    except Exception:  # noqa: BLE001 - a shell must not be filled with errors at a key
        return []
    return [name for name in names if name.startswith(incomplete.lower())]


On = Annotated[
    str | None,
    typer.Option(
        "--on",
        "-o",
        metavar="NAME",
        help="The set, by its short name.",
        autocompletion=set_names,
    ),
]
Complaint = Annotated[
    list[str] | None,
    typer.Argument(metavar="COMPLAINT", help="What it does, in your own words."),
]
Readings = Annotated[
    list[str] | None,
    typer.Option(
        "--reading", "-r", metavar="TEXT", help='Such as "residual 0.4 V". Repeatable.'
    ),
]
Symptoms = Annotated[
    list[str] | None,
    typer.Option("--symptom", metavar="CODE", help="See mendpool symptoms. Repeatable."),
]
Saw = Annotated[
    list[str] | None,
    typer.Option(
        "--saw",
        "--found",
        "-s",
        metavar="CHECK=RESULT",
        help="What a check showed. Repeatable.",
    ),
]
Tried = Annotated[
    list[str] | None,
    typer.Option(
        "--tried",
        "-t",
        metavar='"COMPONENT ACTION RESULT"',
        help='Such as "avr replace no-change"; minutes=40 may follow. Repeatable, in order.',
    ),
]
Before = Annotated[
    list[str] | None,
    typer.Option("--before", metavar="CODE", help="What happened just before. Repeatable."),
]
Fuel = Annotated[
    str | None, typer.Option("--fuel", metavar="CODE", help="diesel, petrol, lpg...")
]
Excitation = Annotated[
    str | None,
    typer.Option("--excitation", metavar="CODE", help="See mendpool codes excitation."),
]
Again = Annotated[
    bool, typer.Option("--again", "-a", help="Go on from the last question about that set.")
]
Json = Annotated[bool, typer.Option("--json", help="Print JSON.")]
Offline = Annotated[
    bool, typer.Option("--offline", help="Don't call the pool; answer from what is here.")
]
Yes = Annotated[bool, typer.Option("--yes", "-y", help="Don't ask before sending.")]
RequireOnline = Annotated[
    bool, typer.Option("--require-online", help="End with 75 if it can't be sent now.")
]
Share = Annotated[
    str | None,
    typer.Option("--share", metavar="WHAT", help="Send these too: cost,hours,region."),
]
Month = Annotated[
    str | None, typer.Option("--month", metavar="YYYY-MM", help="This month, unless given.")
]
Note = Annotated[str | None, typer.Option("--note", metavar="TEXT", help="Anything else.")]
