"""Questions that survive a dead battery, and can be gone back in.

A dialogue is a plain function of its answers. So it is enough to keep the answers: given
again to the same questions they lead to the same place, and with the last one left out to
the place before.
"""

from collections.abc import Callable, Generator
from dataclasses import replace
from typing import Protocol, TypeVar

from mendpool_field.questions import Step

T = TypeVar("T")
_BACK, _STOP = "b", "q"
_KEYS = "b back, q stop"


class Asks(Protocol):
    """Whoever puts a question to the person and brings the answer."""

    def ask(self, step: Step) -> str:
        """Return what was typed."""


class WentBack(Exception):
    """The person went back from the first of the questions."""


class Stopped(Exception):
    """The person stopped; what was answered is kept."""


def answered(
    start: Callable[[], Generator[Step, str, T]],
    typed: list[str],
    face: Asks,
    keep: Callable[[], None],
) -> T:
    """Ask a dialogue's questions from where its answers end, keeping each.

    Args:
        start: begins the dialogue.
        typed: the answers there are; each new one is put to its end.
        face: asks.
        keep: keeps `typed`; called before the next question.

    Raises:
        WentBack: from the first question.
        Stopped: at any.
    """
    try:
        dialog, step = _replayed(start, typed)
    except StopIteration as done:
        whole: T = done.value
        return whole
    while True:
        word = face.ask(replace(step, hint=f"{step.hint}; {_KEYS}"))
        key = "" if word in dict(step.choices) else word.strip().lower()
        if key == _STOP:
            raise Stopped
        if key == _BACK:
            if not typed:
                raise WentBack
            typed.pop()
            keep()
            dialog, step = _replayed(start, typed)
            continue
        try:
            step = dialog.send(word)
        except StopIteration as done:
            typed.append(word)
            keep()
            found: T = done.value
            return found
        # An answer that could not be used leaves the dialogue where it was.
        if not step.trouble:
            typed.append(word)
            keep()


def is_complete(start: Callable[[], Generator[Step, str, T]], typed: list[str]) -> bool:
    """Return whether the answers lead to the end of the dialogue."""
    try:
        _replayed(start, typed)
    except StopIteration:
        return True
    return False


def _replayed(
    start: Callable[[], Generator[Step, str, T]], typed: list[str]
) -> tuple[Generator[Step, str, T], Step]:
    """Return a dialogue that was given its answers again, and what it asks now."""
    dialog = start()
    step = next(dialog)
    for answer in typed:
        step = dialog.send(answer)
    return dialog, step
