"""`mendpool ask` and `mendpool judge`."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated, Any

import typer

from mendpool_field import console, options
from mendpool_field.errors import NO_ANSWER, BadUsage, NewerFile, NotSignedIn
from mendpool_field.exitcodes import ExitCode
from mendpool_field.settings import Settings

if TYPE_CHECKING:
    from mendpool_field.sets import Plate

Have = Annotated[
    list[str] | None,
    typer.Option(
        "--have",
        metavar="ITEMS",
        help="Tools, parts, a second person at hand. With commas, or repeated.",
    ),
]
GetBy = Annotated[
    bool,
    typer.Option("--get-by", help="Show ways to run for now too, with what they risk."),
]
Steps = Annotated[
    bool,
    typer.Option(
        "--steps", help="Be walked through it, step by step; bare at a terminal it does too."
    ),
]
MustRun = Annotated[
    str | None, typer.Option("--must-run", metavar="LOAD", help="What it has to carry, or kVA.")
]
Limit = Annotated[
    int | None,
    typer.Option("--limit", min=1, max=50, metavar="N", help="At most so many fixes. [10]"),
]


def ask(
    complaint: options.Complaint = None,
    on: options.On = None,
    reading: options.Readings = None,
    saw: options.Saw = None,
    tried: options.Tried = None,
    symptom: options.Symptoms = None,
    before: options.Before = None,
    have: Have = None,
    must_run: MustRun = None,
    get_by: GetBy = False,
    steps: Steps = False,
    fuel: options.Fuel = None,
    excitation: options.Excitation = None,
    again: options.Again = False,
    limit: Limit = None,
    offline: options.Offline = False,
    as_json: options.Json = False,
) -> None:
    """Say what is wrong; hear what to do next. --steps walks you through it.

    mendpool ask --on barn "runs but no power" --reading "residual 0.4 V"
    """
    from mendpool.core.record.report import Question
    from mendpool_field.asked import last_asked_about, last_question
    from mendpool_field.checking import typed
    from mendpool_field.compose import Told, question_of
    from mendpool_field.render import answer_text

    known = console.settings()
    told = Told(
        complaint=" ".join(complaint or ()),
        symptoms=symptom or (),
        readings=reading or (),
        saw=saw or (),
        tried=tried or (),
        before=before or (),
        at_hand=_at_hand(known, have),
        must_run=must_run,
        get_by=get_by,
    )
    earlier = last_question(known.home, on) if again else {}
    plate = plate_of(known, on, fuel, excitation)
    question = question_of(told, plate, earlier)
    if limit is not None:
        question["limit"] = limit
    about = on or (last_asked_about(known.home) if again else None)
    said = any(question.get(f) for f in ("complaint", "symptoms", "readings", "observations"))
    if steps or (not said and console.someone_is_there()):
        from mendpool_field.walk_command import Start, walk

        machine = {**question["machine"], **plate}
        walk(known, Start(about, machine, question), offline=offline, as_json=as_json)
        return
    if not said:
        raise BadUsage(
            "Nothing was said of what is wrong.",
            'Say it in your own words: mendpool ask "runs but no power", or be asked for it: '
            "mendpool ask --steps",
        )
    typed(Question, question)
    _keep_question(known, about, question)
    answer, code = _answer(known, question, offline=offline)
    console.show(answer, answer_text(answer, console.width()), as_json=as_json)
    if get_by and not answer.get("get_bys"):
        console.talk("No way to get by is known for this, or none that may be shown.")
    if console.someone_is_there() and not as_json:
        console.talk("To be walked through it, step by step:")
        console.talk_command("mendpool ask --again --steps")
    if code is not ExitCode.DONE:
        console.end(code)


def _at_hand(known: Settings, have: Sequence[str] | None) -> Sequence[str]:
    if not have:
        return ()
    from mendpool_field.having import at_hand

    return at_hand(have, console.catalogue(known))


def judge(
    readings: Annotated[
        list[str] | None, typer.Argument(metavar="READING", help='"residual 0.4 V"')
    ] = None,
    on: options.On = None,
    fuel: options.Fuel = None,
    excitation: options.Excitation = None,
    csv: Annotated[
        str | None,
        typer.Option(
            "--csv", metavar="FILE", help="A log to judge for steadiness; - for stdin."
        ),
    ] = None,
    ascii_only: Annotated[
        bool, typer.Option("--ascii", help="Draw a log with plain characters.")
    ] = False,
    offline: options.Offline = False,
    as_json: options.Json = False,
) -> None:
    """Say whether readings are low, right or high for this set.

    Works with no signal too: mendpool judge "residual 0.4 V" "59,6 Hz" --on barn
    """
    known = console.settings()
    plate = plate_of(known, on, fuel, excitation)
    plate.pop("hours", None)
    if csv is not None:
        if readings:
            raise BadUsage("A log and readings are judged apart.", "Give one of them.")
        _judge_log(known, plate, csv, ascii_only=ascii_only, as_json=as_json)
        return
    if not readings:
        raise BadUsage("Nothing was read.", 'Try: mendpool judge "residual 0.4 V"')
    _judge_readings(known, plate, readings, on, offline=offline, as_json=as_json)


def _judge_log(
    known: Settings, plate: "Plate", csv: str, *, ascii_only: bool, as_json: bool
) -> None:
    from mendpool_field.render_logs import judged_log, log_text

    judged = judged_log(plate, console.read_file(csv), console.catalogue(known))
    plain = ascii_only or not console.draws()
    drawn = ascii_only or not console.is_listened_to()
    text = log_text(judged, console.width(), ascii_only=plain, drawn=drawn)
    console.show(judged.shown(), text, as_json=as_json)


def _judge_readings(
    known: Settings,
    plate: "Plate",
    readings: Sequence[str],
    on: str | None,
    *,
    offline: bool,
    as_json: bool,
) -> None:
    from mendpool_field.past import past_of
    from mendpool_field.render import judged_text

    body: dict[str, Any] = {
        "machine": plate,
        "readings": [{"text": text} for text in readings],
    }
    past = past_of(known.home, on) if on else []
    if past:
        body["past"] = past
    judged = None if offline else _judged_there(known, body)
    if judged is None:
        judged = console.here(known).judged(body)
    console.show(judged, judged_text(judged, console.width()), as_json=as_json)


def plate_of(
    known: Settings, on: str | None, fuel: str | None, excitation: str | None
) -> "Plate":
    """Return the nameplate that was named, with what was said besides."""
    from mendpool_field.sets import plate_with, set_named

    kept = set_named(known.home, on) if on else {}
    return plate_with(kept, {"fuel": fuel, "excitation": excitation})


_JOIN = "Next: mendpool join URL with a good token; your steward makes one."


def _answer(
    known: Settings, question: dict[str, Any], *, offline: bool
) -> tuple[dict[str, Any], ExitCode]:
    """Return the answer, and what the command ends with.

    A token that is no longer good leaves nobody without an answer; but what comes from the
    catalogue alone still ends as not signed in, so that a script can tell.
    """
    here = console.here(known)
    if offline:
        console.talk(f"Answered here, {here.from_what}; no pool was asked.")
        return here.answer(question), ExitCode.DONE
    if not here.has_copy:
        try:
            return console.open_gateway(known).ask(question), ExitCode.DONE
        except NotSignedIn as trouble:
            console.talk(f"Answered {here.from_what}: {_in_short(trouble)}.")
            console.talk(_JOIN)
            return here.answer(question), ExitCode.NOT_SIGNED_IN
    from mendpool_field.asker import there_or_here

    answer = there_or_here(
        lambda: console.open_gateway(known).ask(question),
        lambda: here.answer(question),
        lambda why: console.talk(f"{why} Answered {here.from_what}."),
    )
    return answer, ExitCode.DONE


def _keep_question(known: Settings, about: str | None, question: dict[str, Any]) -> None:
    """Keep the question for --again; where the disk can't, it is answered all the same."""
    from mendpool_field.asked import keep_question

    try:
        keep_question(known.home, about, question)
    except (OSError, NewerFile):
        console.talk("This question can't be kept here, so --again won't go on from it.")


def _judged_there(known: Settings, body: dict[str, Any]) -> dict[str, Any] | None:
    """Ask the service, if it answers at once; None to judge here."""
    if known.service is None:
        console.talk("Judged here: no pool was joined.")
        return None
    from mendpool_field.gateway import AT_ONCE_S, within

    gateway = console.open_gateway(known)
    try:
        return within(AT_ONCE_S, lambda: gateway.judge(body))
    except (*NO_ANSWER, NotSignedIn) as trouble:
        console.talk(f"Judged here: {_in_short(trouble)}.")
        return None


def _in_short(trouble: Exception) -> str:
    from mendpool_field.explain import explain

    says = explain(trouble).says.rstrip(".")
    return says[:1].lower() + says[1:]


COMMANDS: Sequence[Any] = (ask, judge)
