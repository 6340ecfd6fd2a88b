"""`mendpool well`: tell the pool what a good one reads."""

from collections.abc import Generator, Mapping, Sequence
from typing import TYPE_CHECKING, Annotated, Any

import typer

from mendpool_field import console, options
from mendpool_field.errors import BadUsage
from mendpool_field.sending import Sending, keep_and_send
from mendpool_field.settings import Settings

if TYPE_CHECKING:
    from mendpool_field.proving import Proved
    from mendpool_field.questions import Step


def well(
    name: Annotated[str, typer.Argument(metavar="SET", help="The set, by its short name.")],
    readings: Annotated[
        list[str] | None, typer.Argument(metavar="READING", help='"61.5 hz no load"')
    ] = None,
    month: options.Month = None,
    note: options.Note = None,
    share: options.Share = None,
    yes: options.Yes = False,
    require_online: options.RequireOnline = False,
    as_json: options.Json = False,
) -> None:
    """Tell what a set reads when nothing is wrong. Bare, it asks.

    mendpool well barn "61.5 hz no load" "241 V at the outlet, no load"
    """
    from mendpool_field.compose import shared_of
    from mendpool_field.past import keep_past
    from mendpool_field.review import shared_and_agreed
    from mendpool_field.sets import set_named

    known = console.settings()
    plate = set_named(known.home, name)
    body: dict[str, Any] = {"machine": dict(plate), "outcome": "well"}
    found: list[dict[str, Any]] = [{"text": text} for text in readings or ()]
    if not readings:
        proved = prove(known, plate, None)
        found = proved.readings
        if proved.protection:
            body["protection"] = {"left": "proved"}
    if not found:
        raise BadUsage(
            "Nothing was read, so there is nothing to tell.",
            f'Try: mendpool well {name} "61.5 hz no load"',
        )
    _check_it_is_well(known, plate, found)
    body |= {"readings": found, "happened": month or console.this_month()}
    if note:
        body["note"] = note
    agreed = shared_and_agreed(known, body, shared_of(share), yes=yes, as_json=as_json)
    if agreed is None:
        console.talk("Nothing was sent, and nothing kept.")
        return
    body, trouble = agreed
    keep_past(known.home, name, found)
    keep_and_send(known, "report", None, body, Sending(trouble, require_online, as_json))


def _check_it_is_well(
    known: Settings, plate: Mapping[str, Any], found: Sequence[Mapping[str, Any]]
) -> None:
    """Refuse a reading that shows a fault: it would teach others that such is good.

    Raises:
        BadUsage: with the reading's own verdict.
    """
    from mendpool.core.diagnosis.understand import judge_readings
    from mendpool.core.record.machine import Machine
    from mendpool.core.record.reading import ReadingGiven
    from mendpool_field.checking import typed

    given = [typed(ReadingGiven, reading) for reading in found]
    judged = judge_readings(given, typed(Machine, plate), console.catalogue(known))
    for reading in judged:
        if reading.shows or reading.danger:
            raise BadUsage(
                f"That is no healthy set. {reading.judged.said} {reading.judged.means}",
                "Ask about it with mendpool ask, or read again.",
            )


def prove(known: Settings, plate: Mapping[str, Any], stage: str | None) -> "Proved":
    """Ask for a proving run, to its end or as far as was typed."""
    from mendpool.core.record.machine import Machine
    from mendpool_field.checking import typed
    from mendpool_field.proving import proving_run

    run: Generator[Step, str, Proved] = proving_run(
        console.catalogue(known), typed(Machine, plate), stage
    )
    try:
        step = next(run)
        while True:
            step = run.send(console.read_step(step))
    except StopIteration as told:
        proved: Proved = told.value
        return proved
    except EOFError:
        raise BadUsage(
            "The proving run was not answered to the end; nothing was kept.",
            "Give the readings on the line instead.",
        ) from None


COMMANDS: Sequence[Any] = (well,)
