"""`mendpool report` and `mendpool followup`: kept first, then sent."""

from collections.abc import Mapping, Sequence
from enum import StrEnum
from typing import TYPE_CHECKING, Annotated, Any

import typer

from mendpool_field import console, options
from mendpool_field.commands_ask import plate_of
from mendpool_field.errors import BadUsage, NoPool
from mendpool_field.sending import Sending, keep_and_send
from mendpool_field.settings import Settings

if TYPE_CHECKING:
    from mendpool_field.compose import Told


class LeftAs(StrEnum):
    """How a protection that was out of action was left."""

    PROVED = "proved"
    UNTESTED = "untested"
    DEFEATED = "defeated"


Cause = Annotated[
    str | None,
    typer.Option(
        "--cause", metavar="COMPONENT/FAILURE", help="What it was, such as brushes/worn."
    ),
]
Outcome = Annotated[
    str | None,
    typer.Option("--outcome", metavar="CODE", help="repaired, get-by, not-repaired..."),
]
Region = Annotated[
    str | None, typer.Option("--region", metavar="TEXT", help="Given here, it is sent.")
]
Defeated = Annotated[
    bool, typer.Option("--defeated", help="A shutdown or breaker was left out of action.")
]
Left = Annotated[
    LeftAs | None,
    typer.Option("--left", help="How a shutdown or breaker that had been out was left."),
]
File = Annotated[
    str | None,
    typer.Option("--file", "-f", metavar="FILE", help="A report as JSON; - for stdin."),
]


FromSheet = Annotated[
    str | None,
    typer.Option(
        "--from-sheet",
        metavar="ROWS",
        help='The pencilled form by its letters, such as "PA / a 0 / BR N 1 40 / R BR N / '
        '11/26"; - to be asked row by row.',
    ),
]
Prove = Annotated[
    bool,
    typer.Option("--prove", help="Ask for a proving run; its readings are sent as left."),
]


Photo = Annotated[
    list[str] | None,
    typer.Option(
        "--photo",
        metavar="FILE",
        help="A JPEG or PNG; made small, and place, time and camera taken out. Repeatable.",
    ),
]


class State(StrEnum):
    """What a follow-up says."""

    HOLDING = "holding"
    RETURNED = "returned"
    SUPERSEDED = "superseded"


def report(
    complaint: options.Complaint = None,
    on: options.On = None,
    reading: options.Readings = None,
    saw: options.Saw = None,
    tried: options.Tried = None,
    cause: Cause = None,
    outcome: Outcome = None,
    symptom: options.Symptoms = None,
    before: options.Before = None,
    month: options.Month = None,
    note: options.Note = None,
    region: Region = None,
    defeated: Defeated = False,
    left: Left = None,
    fuel: options.Fuel = None,
    excitation: options.Excitation = None,
    share: options.Share = None,
    again: options.Again = False,
    file: File = None,
    from_sheet: FromSheet = None,
    prove: Prove = False,
    photo: Photo = None,
    yes: options.Yes = False,
    require_online: options.RequireOnline = False,
    as_json: options.Json = False,
) -> None:
    """Tell the pool what was wrong and what was tried. Bare, it asks.

    mendpool report "no power" --on barn --tried "brushes replace fixed"
    """
    from mendpool_field.compose import (
        Ended,
        Told,
        given_openly,
        report_of,
        shared_of,
    )
    from mendpool_field.guided import forget_answers
    from mendpool_field.photographs import agreed_photos, photos_of
    from mendpool_field.review import shared_and_agreed

    known = console.settings()
    photos = photos_of(photo or ())
    shared = (*shared_of(share), *given_openly(region, tried or ()))
    told = Told(
        complaint=" ".join(complaint or ()),
        symptoms=symptom or (),
        readings=reading or (),
        saw=saw or (),
        tried=tried or (),
        before=before or (),
    )
    ended = Ended(cause, outcome, month, note, region, defeated, left.value if left else None)
    plate = plate_of(known, on, fuel, excitation)
    if file == "-" and not yes:
        raise BadUsage(
            "A report from stdin leaves nobody to ask before it is sent.",
            "Add --yes to send it.",
        )
    bare = _is_bare(told, ended) and file is None and from_sheet is None and not again
    # A session writes its own report, which takes no photographs.
    if bare and not photos and _went_on_with_session(known, on, as_json=as_json):
        return
    if from_sheet is not None:
        from mendpool_field.from_sheet import keyed_report

        earlier = keyed_report(from_sheet, console.catalogue(known))
    else:
        earlier = _earlier(known, plate, on, file=file, again=again, bare=bare)
    body = report_of(told, ended, plate, earlier)
    body.setdefault("happened", console.this_month())
    _settle_outcome(known, body)
    good = (
        _proved(known, body, ask=not yes)
        if prove or (not yes and _proving_offered(body))
        else []
    )
    agreed = shared_and_agreed(known, body, shared, yes=yes, as_json=as_json)
    if agreed is None:
        console.talk("Nothing was sent, and nothing kept.")
        if bare:
            forget_answers(known.home, on)
        return
    body, trouble = agreed
    going = agreed_photos(photos, ask=not yes)
    if on and good:
        from mendpool_field.past import keep_past

        keep_past(known.home, on, good)
    kept = (lambda: forget_answers(known.home, on)) if bare else (lambda: None)
    sending = Sending(trouble, require_online, as_json, photos=going, kept=kept)
    keep_and_send(known, "report", None, body, sending)


def _proving_offered(body: Mapping[str, Any]) -> bool:
    """Offer a proving run at the end of a repair, to someone who sits at a terminal."""
    if body.get("outcome") != "repaired" or not console.someone_is_there():
        return False
    console.talk("It runs again. A proving run shows that it will hold, and what good is.")
    return console.wants_yes("Do it now?")


def _proved(known: Settings, body: dict[str, Any], *, ask: bool) -> list[dict[str, Any]]:
    """Do the proving run, put what it gave into the report, and return its good readings.

    A set that failed it is not repaired: the end is asked for again, or told as not repaired.
    """
    from mendpool_field.commands_well import prove as proving

    proved = proving(known, body.get("machine", {}), "left")
    body["readings"] = [*body.get("readings", ()), *proved.readings]
    if not body["readings"]:
        del body["readings"]
    if proved.protection and "protection_defeated" not in body:
        body["protection"] = {**body.get("protection", {}), "left": "proved"}
    if proved.failed and body.get("outcome") == "repaired":
        body["outcome"] = "not-repaired"
        console.talk("It did not pass the proving run, so it is told as not repaired.")
        if ask and console.someone_is_there():
            runs = console.wants_yes("Does it run for now all the same?")
            body["outcome"] = "get-by" if runs else "not-repaired"
    return proved.good


def followup(
    report_id: Annotated[str, typer.Argument(metavar="REPORT_ID", help="Whole, or a piece.")],
    state: Annotated[State, typer.Option("--state", help="Whether the repair holds.")],
    month: options.Month = None,
    hours_run: Annotated[
        float | None, typer.Option("--hours-run", min=0, help="Hours run since.")
    ] = None,
    note: options.Note = None,
    yes: options.Yes = False,
    require_online: options.RequireOnline = False,
    as_json: options.Json = False,
) -> None:
    """Say months later whether a repair held.

    mendpool followup 3f9a2c --state holding --hours-run 140
    """
    from mendpool.core.record.report import Followup
    from mendpool_field.checking import typed
    from mendpool_field.compose import followup_of
    from mendpool_field.outbox import Outbox
    from mendpool_field.review import followup_agreed

    known = console.settings()
    report = Outbox(known.home).report_known_as(report_id)
    body = followup_of(state.value, month or console.this_month(), hours_run, note)
    typed(Followup, body)
    agreed = followup_agreed(known, body, yes=yes)
    if agreed is None:
        console.talk("Nothing was sent, and nothing kept.")
        return
    trouble = None if known.service is not None else NoPool()
    keep_and_send(known, "followup", report, agreed, Sending(trouble, require_online, as_json))


def _is_bare(told: "Told", ended: object) -> bool:
    from mendpool_field.compose import Ended, Told

    return told == Told() and ended == Ended()


def _earlier(
    known: Settings,
    plate: dict[str, Any],
    on: str | None,
    *,
    file: str | None,
    again: bool,
    bare: bool,
) -> dict[str, Any]:
    """Return what the report starts from: a file, the last question, answers, or nothing."""
    if file is not None:
        return console.read_object_file(file)
    if again:
        from mendpool_field.asked import last_question

        return last_question(known.home, on)
    if not bare:
        return {}
    from mendpool_field.guided import guided_report

    return guided_report(known, plate, on)


def _went_on_with_session(known: Settings, on: str | None, *, as_json: bool) -> bool:
    """Offer the session that was walked at this set, where there is one."""
    from mendpool_field.asked import last_asked_about, name_of
    from mendpool_field.sessions import Sessions
    from mendpool_field.walk_command import Start, kept_session, walk

    name = name_of(on) if on else last_asked_about(known.home)
    session = kept_session(known, Sessions(known.home), name) if name is not None else None
    if session is None:
        return False
    start = Start(session.on, session.machine, {})
    return walk(known, start, offline=False, as_json=as_json, for_report=True)


def _settle_outcome(known: Settings, body: dict[str, Any]) -> None:
    """A last attempt that fixed it is a repair; what runs for now is none, and it is said."""
    from mendpool.core.evidence.getting_by import outs_unsaid, proposed_outcome, told_outcome

    protections = console.catalogue(known).sets.protections
    said = body.get("outcome")
    outcome = told_outcome(said, body, protections) if said else None
    outcome = outcome or proposed_outcome(body, protections)
    if outcome is None:
        raise BadUsage(
            "How did it end?",
            "Add --outcome repaired, get-by or not-repaired; mendpool codes outcomes has more.",
        )
    body["outcome"] = outcome
    if outs := outs_unsaid(body, protections):
        body |= {"protection": {**body.get("protection", {}), "left": "defeated"}}
        body["protection_defeated"] = True
        parts = " and ".join(part.replace("-", " ") for part in outs)
        console.talk(
            f"Without the {parts} it runs for now only, and nothing stops or trips it: this is "
            "told as a get-by with protection left out of action. Is it back? Then add "
            "--left proved, or --left untested."
        )
    elif said and said != outcome:
        console.talk("It runs for now only, so it is told as a get-by, not as repaired.")


COMMANDS: Sequence[Any] = (report, followup)
