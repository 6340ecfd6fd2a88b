"""Before the yes: what is taken out, put back or taken out besides, and what is shared."""

from collections.abc import Mapping, Sequence
from typing import Any

from mendpool_field import console
from mendpool_field.compose import without_unshared
from mendpool_field.errors import BadUsage, FieldError
from mendpool_field.face import TextFace
from mendpool_field.kept_words import put_back, share_words
from mendpool_field.questions import Step
from mendpool_field.replay import Asks
from mendpool_field.scrubbing import scrubbed_here, taken_here, without
from mendpool_field.sending import previewed
from mendpool_field.settings import Settings

Body = dict[str, Any]
Taken = Sequence[tuple[str, str]]
"""The kinds and words that go."""
MORE = ("r", "take more words out")
OR_BACK = ("p", "put a word of the trade back")
_CHOICES = (("y", "yes"), ("n", "no, and keep nothing"))
_SHARE = (
    "The pool scrubs once more, and takes it out there. May its stewards see the word, and no "
    "name of yours, so that they can mend that?"
)
_TICKED = {"cost": "what it cost", "hours": "the hours run", "region": "the region"}


def ticked(kept_home: Sequence[str]) -> list[str]:
    """Ask for each of what stays at home whether to send it; Enter keeps it."""
    if not console.someone_is_there():
        return []
    sent = []
    for name in kept_home:
        asked = Step(f"Send {_TICKED[name]} too?", (("y", "yes"),), "One key; Enter: no")
        typed = console.read_step(asked)
        if typed.strip().lower() in {"y", "yes"}:
            sent.append(name)
    return sent


def reviewed(
    known: Settings, body: Body, trouble: FieldError | None, kept_home: Sequence[str],
    *, as_json: bool,
) -> tuple[Body, FieldError | None] | None:  # fmt: skip
    """Ask whether to send what was shown, until it is a yes or a no.

    Returns:
        The report as the member wants it and why the service did not answer; None for no.

    Raises:
        BadUsage: there is nobody to ask.
    """
    while True:
        taken = taken_here(known, body)
        show_taken(taken)
        try:
            agreed, body = _once(known, body, taken)
        except EOFError:
            raise BadUsage(
                "Nobody said yes, so nothing was sent or kept.",
                "Add --yes to send without being asked.",
            ) from None
        if agreed is not None:
            return (body, trouble) if agreed else None
        trouble = previewed(known, body, kept_home, as_json=as_json)


def followup_agreed(known: Settings, body: Body, *, yes: bool) -> Body | None:
    """Show the note of a follow-up as it will be sent, and ask whoever is there.

    Returns:
        The follow-up as the member wants it; None for no.
    """
    while body.get("note"):
        taken = taken_here(known, body)
        show_taken(taken)
        console.talk(f"The note goes as: {scrubbed_here(known, body)[0]['note']}")
        if yes or not console.someone_is_there():
            break
        agreed, body = _once(known, body, taken)
        if agreed is not None:
            return body if agreed else None
    return body


def _once(known: Settings, body: Body, taken: Taken) -> tuple[bool | None, Body]:
    """Ask once: True and False are for good, None asks again with what is left."""
    face, mends = TextFace(), ways_to_mend(taken)
    asked = Step("Send it?", (*_CHOICES, *mends), "One key; Enter: yes")
    while True:
        typed = face.ask(asked).strip().lower()
        if typed in {"", "y", "yes"}:
            return True, body
        if typed in {"n", "no"}:
            return False, body
        if typed in dict(mends):
            break
    if typed == MORE[0]:
        said = which_go(face)
        body, times = without(body, said)
        console.talk(taken_out(said, times))
    elif told := put_one_back(known, taken, face):
        console.talk(told)
    return None, body


def show_taken(taken: Taken) -> None:
    """Show the member what goes, each with its kind; it is written nowhere else."""
    for line in goes(taken):
        console.talk(line)


def goes(taken: Taken) -> list[str]:
    """Return what goes, a line each."""
    return [f"Goes: {words} ({kind})" for kind, words in taken]


def ways_to_mend(taken: Taken) -> tuple[tuple[str, str], ...]:
    """Return the keys that change what goes; only names can be put back."""
    return (MORE, OR_BACK) if _names(taken) else (MORE,)


def which_go(face: Asks) -> str:
    """Ask which words go besides."""
    return face.ask(Step("Which words go besides?", hint="Enter: none")).strip()


def taken_out(said: str, times: int) -> str:
    """Say how often words were found that the member wants out."""
    if not said:
        return "Nothing more goes."
    often = "once" if times == 1 else f"{times} times"
    return f"Taken out {often}." if times else f"“{said}” is not in the text."


def put_one_back(known: Settings, taken: Taken, face: Asks) -> str:
    """Ask which of the names is a word of the trade, and keep it; return what to say."""
    choices = tuple((str(n), name) for n, name in enumerate(_names(taken)[:9], 1))
    asked = Step("Which of these is a word of the trade?", choices, "One key; Enter: none")
    name = dict(choices).get(face.ask(asked).strip())
    if name is None:
        return ""
    if not all(put_back(known.home, word) for word in name.split()):
        return "Only words can be put back."
    stays = f"“{name}” stays here from now on; mendpool kept-words lists such words."
    shared = face.ask(Step(_SHARE, (("y", "yes"),), "One key; Enter: no"))
    if shared.strip().lower() not in {"y", "yes"}:
        return f"{stays} The pool may still take it out."
    share_words(known.home, name.split())
    return f"{stays} Your stewards are told the word alone; until then the pool may take it."


def _names(taken: Taken) -> list[str]:
    return list(dict.fromkeys(words for kind, words in taken if kind == "name"))


def shared_and_agreed(
    known: Settings,
    whole: Mapping[str, Any],
    shared: Sequence[str],
    *,
    yes: bool,
    as_json: bool,
) -> tuple[Body, FieldError | None] | None:
    """Ask what is shared, show what will be sent, and ask for the yes.

    Args:
        whole: the report with all that may stay at home.
        shared: what is sent without being asked.
        yes: ask nothing.

    Returns:
        See `reviewed`.
    """
    body, kept_home = without_unshared(whole, shared)
    if not yes and (more := ticked(kept_home)):
        body, kept_home = without_unshared(whole, (*shared, *more))
    trouble = previewed(known, body, kept_home, as_json=as_json)
    if yes:
        return body, trouble
    return reviewed(known, body, trouble, kept_home, as_json=as_json)
