"""Before the yes: what is taken out, put back or taken out besides, and what is shared."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from mendpool_field import console
from mendpool_field.compose import without_unshared
from mendpool_field.errors import BadUsage, FieldError
from mendpool_field.questions import Step
from mendpool_field.scrubbing import put_back, taken_here, without
from mendpool_field.sending import previewed
from mendpool_field.settings import Settings

Body = dict[str, Any]
_CHOICES = (("y", "yes"), ("n", "no, and keep nothing"), ("r", "take more words out"))
_OR_BACK = ("b", "put a word of the trade back")
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
        names = [words for kind, words in taken if kind == "name"]
        try:
            choices = (*_CHOICES, _OR_BACK) if names else _CHOICES
            asked = Step("Send it?", choices, "One key; Enter: yes")
            typed = console.read_step(asked).strip().lower()
            if typed in {"", "y", "yes"}:
                return body, trouble
            if typed in {"n", "no"}:
                return None
            if typed == "r":
                body = _less(body)
            elif typed == "b" and names:
                _put_back(known, names)
            else:
                continue
        except EOFError:
            raise BadUsage(
                "Nobody said yes, so nothing was sent or kept.",
                "Add --yes to send without being asked.",
            ) from None
        trouble = previewed(known, body, kept_home, as_json=as_json)


def show_taken(taken: Iterable[tuple[str, str]]) -> None:
    """Show the member what goes, each with its kind; it is written nowhere else."""
    for kind, words in taken:
        console.talk(f"Goes: {words} ({kind})")


def _less(body: Mapping[str, Any]) -> Body:
    said = console.read_line("Which words go besides? ").strip()
    if not said:
        return dict(body)
    clean, times = without(body, said)
    console.talk(f"Taken out {times} times." if times else f"“{said}” is not in the text.")
    return clean


def _put_back(known: Settings, names: Sequence[str]) -> None:
    for number, name in enumerate(names[:9], 1):
        console.talk(f"{number}  {name}")
    typed = console.read_line("Which is a word of the trade? [its number] ").strip()
    if not typed.isdigit() or not 1 <= int(typed) <= min(len(names), 9):
        return
    name = names[int(typed) - 1]
    if not all(put_back(known.home, word) for word in name.split()):
        console.talk("Only words can be put back.")
        return
    console.talk(
        f"“{name}” stays here from now on. The pool may still take it out: tell your steward. "
        "mendpool kept-words lists them."
    )


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
