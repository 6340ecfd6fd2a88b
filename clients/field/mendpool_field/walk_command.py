"""`mendpool ask --steps`: find the kept session or begin one, walk it, send its report."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from mendpool.core.errors import RefusedInput
from mendpool_field import console
from mendpool_field.asked import NO_SET, keep_question, name_of
from mendpool_field.asker import Asker
from mendpool_field.compose import without_unshared
from mendpool_field.disk import locked
from mendpool_field.errors import BadUsage, Refused
from mendpool_field.face import Face, JsonFace, TextFace
from mendpool_field.guide import which_set
from mendpool_field.layout import para
from mendpool_field.outbox import Outbox
from mendpool_field.questions import Step
from mendpool_field.replay import Stopped, answered
from mendpool_field.review import (
    MORE,
    Taken,
    goes,
    put_one_back,
    taken_out,
    ways_to_mend,
    which_go,
)
from mendpool_field.scrubbing import taken_here
from mendpool_field.sending import Sending, keep_and_send, previewed
from mendpool_field.sessions import (
    Session,
    Sessions,
    command_to_go_on,
    told_so_far,
    where_it_stands,
)
from mendpool_field.sets import read_sets
from mendpool_field.settings import Settings
from mendpool_field.usual import Used
from mendpool_field.walk import Walk

_WAYS = (("y", "go on"), ("r", "write its report now"))


@dataclass(frozen=True, slots=True)
class Start:
    """What a session starts from.

    Args:
        on: the set's name, None for one without.
        machine: its nameplate.
        question: what was typed, as a question of the wire; may say nothing.
    """

    on: str | None
    machine: Mapping[str, Any]
    question: Mapping[str, Any]

    @property
    def says_something(self) -> bool:
        """Whether anything of the trouble was typed."""
        wanted = ("complaint", "symptoms", "readings", "observations")
        return any(self.question.get(field) for field in wanted)


def walk(
    known: Settings, start: Start, *, offline: bool, as_json: bool, for_report: bool = False
) -> bool:
    """Walk a session about a set to its end, or as far as the person goes.

    Args:
        for_report: only a session that is kept; without a yes it stays as it is.

    Returns:
        Whether a session was walked.

    Raises:
        BadUsage: another mendpool is walking it at this moment.
    """
    face: Face = JsonFace() if as_json else TextFace()
    if not start.machine.get("fuel"):
        start = _of_a_set(known, start, face)
    name = name_of(start.on)
    sessions = Sessions(known.home)
    with locked(sessions.lock_of(name), wait=False) as ours:
        if not ours:
            raise BadUsage(
                "Another mendpool is walking this set at this moment.",
                "End that one first (q there keeps it), then give the same command again.",
            )
        session = kept_session(known, sessions, name)
        if session is not None and not _goes_on(session, face, start, for_report=for_report):
            if for_report:
                return False
            aside = sessions.set_aside(session)
            console.talk(f"The old one lies in {aside}, till the next is set aside.")
            session = None
        session = session or _begun(start, name)
        _walked(known, session, sessions, face, offline=offline, as_json=as_json)
        return True


def _of_a_set(known: Settings, start: Start, face: Face) -> Start:
    """Ask which set it is: a report is no use without what it burns."""
    catalogue = console.catalogue(known)
    own = {} if start.on else read_sets(known.home)
    sets = Used(known.home).first(own)
    fuels = catalogue.vocabulary.machine["fuel"]
    on, plate = answered(lambda: which_set(sets, fuels), [], face, lambda: None)
    return replace(start, on=on or start.on, machine={**plate, **start.machine})


def kept_session(known: Settings, sessions: Sessions, name: str) -> Session | None:
    """Return the session kept about a set, less one whose report is in the outbox already.

    A battery may die between the two; the report is there, once, and the session done.
    """
    session = sessions.of(name)
    if session is None or session.report is None:
        return session
    outbox = Outbox(known.home)
    if any(entry.id == session.report for entry in (*outbox.entries(), *outbox.sent())):
        sessions.remove(session)
        return None
    return session


def _goes_on(session: Session, face: Face, start: Start, *, for_report: bool) -> bool:
    """Ask whether to go on with a kept session."""
    trouble = ""
    stands = f"{where_it_stands(session, console.now_s())} {told_so_far(session)}".rstrip()
    ways = (*_WAYS, ("n", "leave it; an empty report" if for_report else "begin afresh"))
    while True:
        asked = Step(f"{stands} Go on?", ways, "One key; Enter: go on", trouble)
        typed = face.ask(asked).strip().lower()
        if typed in {"", "y", "yes"}:
            _add(session, start.question)
            return True
        if typed == "r":
            if not session.is_over:
                session.dialog = None
                session.log.append({"kind": "over", "why": "reported"})
            return True
        if typed in {"n", "no"}:
            return False
        trouble = "Type one of the keys."


def _add(session: Session, question: Mapping[str, Any]) -> None:
    """Put what was typed on the line to a session that goes on."""
    for seen in question.get("observations", ()):
        session.log.append({"kind": "saw", "observation": seen})
    for reading in question.get("readings", ()):
        session.log.append({"kind": "read", "reading": reading})
    for attempt in question.get("tried", ()):
        session.log.append({"kind": "tried", "attempt": attempt})
    words = question.get("complaint")
    if words and words != session.asked.get("complaint"):
        session.log.append({"kind": "said", "text": words})
    for field in ("at_hand", "must_run"):
        if question.get(field):
            session.asked[field] = question[field]


def _begun(start: Start, name: str) -> Session:
    asked = {
        field: value
        for field, value in start.question.items()
        if field not in {"machine", "limit", "get_by"}
    }
    session = Session(on=name, machine=dict(start.machine), asked=asked)
    if not start.says_something:
        session.dialog = {"about": {"what": "beginning"}, "typed": []}
    return session


def _walked(
    known: Settings,
    session: Session,
    sessions: Sessions,
    face: Face,
    *,
    offline: bool,
    as_json: bool,
) -> None:
    def keep() -> None:
        sessions.keep(session, console.now_s())

    catalogue = console.catalogue(known)
    run = Walk(
        session,
        catalogue,
        Asker(
            lambda: console.open_gateway(known),
            console.here(known),
            console.talk,
            offline=offline,
        ),
        face,
        keep=keep,
        asked=lambda question: keep_question(known.home, session.on, question),
        now_s=console.now_s,
        width=console.width(),
        usual=Used(known.home).on(session.on, session.machine, catalogue),
    )
    keep()
    try:
        while not _sent(known, session, sessions, run, as_json=as_json):
            pass
    except Stopped:
        _tell_kept(session, sessions)
    except (EOFError, KeyboardInterrupt):
        _tell_kept(session, sessions)
        raise


def _tell_kept(session: Session, sessions: Sessions) -> None:
    if session.is_empty:
        sessions.remove(session)
        return
    console.talk("Kept, every answer. To go on:")
    console.talk_command(command_to_go_on(session))


def _sent(
    known: Settings, session: Session, sessions: Sessions, run: Walk, *, as_json: bool
) -> bool:
    """Walk to the end, show the report, and send it after a yes; False to go on."""
    body = {**run.to_the_end(), "happened": console.this_month()}
    body, kept_home = without_unshared(body, ())
    run.face.tell("report", {"report": body}, [])
    try:
        trouble = previewed(known, body, kept_home, as_json=as_json)
    except (Refused, RefusedInput) as refused:
        _mended(run, refused)
        return False
    taken = taken_here(known, body)
    if taken:
        told = [{"kind": kind, "words": words} for kind, words in taken]
        lines = [folded for line in goes(taken) for folded in para(line, run.show.width)]
        run.face.tell("goes", {"goes": told}, lines)
    mends = ways_to_mend(taken)
    choices = (("y", "yes"), ("n", "no, keep it here"), *mends)
    asked = Step("Send it?", choices, "One key; Enter: yes; b back")
    while True:
        typed = run.face.ask(asked).strip().lower()
        if typed == "b":
            run.back_into_the_ending()
            return False
        if typed in dict(mends):
            _rewritten(known, run, taken, typed)
            return False
        if typed in {"n", "no", "q"}:
            raise Stopped
        if typed in {"", "y", "yes"}:
            break
    session.report = session.report or console.new_id()
    run.keep()
    _past(known, session, body)
    keep_and_send(
        known,
        "report",
        None,
        body,
        Sending(
            trouble,
            as_json=as_json,
            one_line=as_json,
            report_id=session.report,
            kept=lambda: sessions.remove(session),
        ),
    )
    return True


def _rewritten(known: Settings, run: Walk, taken: Taken, key: str) -> None:
    """Take more words out of what was told, or put one back; the report is shown anew."""
    if key == MORE[0]:
        said = which_go(run.face)
        told = taken_out(said, run.session.take_out(said))
        run.keep()
    else:
        told = put_one_back(known, taken, run.face)
    if told:
        run.show.remark(told)


def _mended(run: Walk, refused: Exception) -> None:
    """Say why the report can't be used as it is, and go back to answer otherwise."""
    from mendpool_field.explain import explain

    step = Step(
        "b goes back to the last answer; q keeps it all.",
        (("b", "back"), ("q", "stop and keep")),
        "One key",
        explain(refused).says,
    )
    while True:
        typed = run.face.ask(step).strip().lower()
        if typed == "b":
            run.back_into_the_ending()
            return
        if typed == "q":
            raise Stopped


def _past(known: Settings, session: Session, body: Mapping[str, Any]) -> None:
    """Keep what a proving run read as this set's own good readings, if the set passed it."""
    from mendpool.core.record.machine import Machine
    from mendpool_field.checking import typed
    from mendpool_field.past import keep_past
    from mendpool_field.proving import out_of_band

    left = [r for r in body.get("readings", ()) if r.get("stage") == "left"]
    catalogue, machine = console.catalogue(known), typed(Machine, body["machine"])
    told = [{field: value for field, value in r.items() if field != "stage"} for r in left]
    passed = not any(out_of_band(catalogue, machine, reading) for reading in told)
    if session.on != NO_SET and passed and body.get("outcome") == "repaired":
        keep_past(known.home, session.on, left)
