"""`mendpool set`: the member's own nameplates under short names."""

from pathlib import Path
from typing import Annotated, Any

import typer

from mendpool_field import console, options
from mendpool_field.errors import BadUsage

app = typer.Typer(
    help="Keep the nameplates of your sets under short names.",
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    add_completion=False,
)
Name = Annotated[str, typer.Argument(metavar="NAME", help="Short, such as barn.")]
Replace = Annotated[bool, typer.Option("--replace", help="In place of one of the same name.")]


def _text(flag: str, says: str) -> Any:  # noqa: ANN401 - Typer's own type is not public
    return typer.Option(flag, metavar="CODE" if "codes" in says else "TEXT", help=says)


def _number(flag: str, says: str) -> Any:  # noqa: ANN401 - as above
    return typer.Option(flag, help=says)


@app.command()
def add(
    name: Name,
    fuel: Annotated[str | None, _text("--fuel", "See mendpool codes fuel.")] = None,
    excitation: Annotated[
        str | None, _text("--excitation", "See mendpool codes excitation; not-known is fine.")
    ] = None,
    kva: Annotated[float | None, _number("--kva", "Rated kVA.")] = None,
    kw: Annotated[float | None, _number("--kw", "Rated kW.")] = None,
    volts: Annotated[float | None, _number("--volts", "Rated volts.")] = None,
    hz: Annotated[float | None, _number("--hz", "Rated Hz.")] = None,
    rpm: Annotated[float | None, _number("--rpm", "Rated rpm.")] = None,
    phases: Annotated[int | None, _number("--phases", "1 or 3.")] = None,
    make: Annotated[str | None, _text("--make", "As on the plate.")] = None,
    model: Annotated[str | None, _text("--model", "As on the plate.")] = None,
    cooling: Annotated[str | None, _text("--cooling", "air or liquid (codes cooling).")] = None,
    starting: Annotated[str | None, _text("--starting", "See codes starting.")] = None,
    duty: Annotated[str | None, _text("--duty", "See codes duty.")] = None,
    drive: Annotated[str | None, _text("--drive", "See codes drive.")] = None,
    control: Annotated[str | None, _text("--control", "See codes control.")] = None,
    governor: Annotated[str | None, _text("--governor", "See codes governor.")] = None,
    start_volts: Annotated[float | None, _number("--start-volts", "Starter battery V.")] = None,
    hours: Annotated[
        float | None, _number("--hours", "Hours run; not sent unless shared.")
    ] = None,
    altitude_m: Annotated[
        float | None, _number("--altitude-m", "Metres above the sea.")
    ] = None,
    performance: Annotated[str | None, _text("--class", "Performance class, G1 to G4.")] = None,
    replace: Replace = False,
) -> None:
    """Keep a nameplate.

    mendpool set add barn --fuel diesel --kva 6.5 --volts 240 --hz 60 --rpm 1800
    """
    from mendpool_field.sets import keep_set, plate_with

    plate = plate_with(
        {},
        {
            "make": make, "model": model, "fuel": fuel, "excitation": excitation,
            "cooling": cooling, "phases": phases, "starting": starting, "duty": duty,
            "drive": drive, "control": control, "governor": governor, "rated_kva": kva,
            "rated_kw": kw, "rated_volts": volts, "rated_hz": hz, "rated_rpm": rpm,
            "start_volts": start_volts, "hours": hours, "altitude_m": altitude_m,
            "class": performance,
        },
    )  # fmt: skip
    if not plate:
        raise BadUsage(
            "Nothing was given of this nameplate.",
            f"Such as: mendpool set add {name} --fuel diesel --kva 6.5 --volts 240 --hz 60",
        )
    known = console.settings()
    _check(plate)
    kept, aside = keep_set(known.home, name, plate, replace=replace, now_s=console.now_s())
    console.talk(f"Kept as {kept}.")
    _tell_aside(aside)
    if "fuel" not in plate:
        console.talk("It has no --fuel yet; a report needs one.")


@app.command("list")
def list_sets(as_json: options.Json = False) -> None:
    """List your sets."""
    from mendpool_field.layout import para
    from mendpool_field.render_reports import plate_line
    from mendpool_field.sets import read_sets

    sets = read_sets(console.settings().home)
    lines = [
        line
        for name, plate in sets.items()
        for line in para(f"{name}: {plate_line(plate)}", console.width(), rest="  ")
    ]
    console.show(sets, "\n".join(lines or ["No set is kept yet."]), as_json=as_json)


@app.command("show")
def show_set(name: Name, as_json: options.Json = False) -> None:
    """Show a nameplate."""
    from mendpool_field.render_reports import figure_of
    from mendpool_field.sets import set_named

    plate = set_named(console.settings().home, name)
    lines = [f"{field.replace('_', ' ')}: {figure_of(value)}" for field, value in plate.items()]
    console.show(plate, "\n".join(lines), as_json=as_json)


@app.command()
def remove(name: Name) -> None:
    """Forget a nameplate."""
    from mendpool_field.sets import remove_set

    forgotten, aside = remove_set(console.settings().home, name, console.now_s())
    console.talk(f"Forgotten: {forgotten}.")
    _tell_aside(aside)


def _tell_aside(aside: Path | None) -> None:
    if aside is not None:
        console.talk(
            "What was kept about the set of this name before (good readings, questions, what "
            f"came off) is set aside in {aside}; nothing of it is used any more."
        )


def _check(plate: dict[str, Any]) -> None:
    """Refuse a nameplate that no question could carry.

    Raises:
        RefusedInput: a figure out of bounds, or a code nobody knows.
    """
    from mendpool.core.catalogue.codes import check_question
    from mendpool.core.record.report import Question
    from mendpool_field.checking import typed

    question = typed(Question, {"machine": plate, "complaint": "-"})
    check_question(question, console.catalogue(console.settings()))
