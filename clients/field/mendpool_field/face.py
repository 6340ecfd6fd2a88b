"""How a session speaks: to a person in text, or to a program in JSON, one object a line."""

from collections.abc import Mapping, Sequence
from typing import Any, Protocol

from mendpool_field import console
from mendpool_field.questions import Step


class Face(Protocol):
    """What a session tells and asks through."""

    def tell(self, kind: str, body: Mapping[str, Any], lines: Sequence[str]) -> None:
        """Tell something: `lines` for a person, `kind` and `body` for a program."""

    def ask(self, step: Step) -> str:
        """Ask a question and return what was typed.

        Raises:
            EOFError: nobody is there any more.
        """


class TextFace:
    """Speaks to a person: plain lines that fit the terminal, no colour, no boxes."""

    def tell(self, kind: str, body: Mapping[str, Any], lines: Sequence[str]) -> None:
        """Print the lines after an empty one."""
        del kind, body
        if lines:
            console.say("\n".join(["", *lines]))

    def ask(self, step: Step) -> str:
        """Print the question and read a line."""
        return console.read_step(step)


class JsonFace:
    """Speaks to a program: each thing told or asked is one JSON object on a line of stdout."""

    def tell(self, kind: str, body: Mapping[str, Any], lines: Sequence[str]) -> None:
        """Print what is told as ``{"say": kind, ...}``."""
        del lines
        _line({"say": kind, **body})

    def ask(self, step: Step) -> str:
        """Print the question as ``{"say": "question", ...}`` and read a line."""
        asked = {"say": "question", "asks": step.asks, "hint": step.hint}
        choices = [{"key": key, "says": words} for key, words in step.choices]
        _line({**asked, "choices": choices, "trouble": step.trouble})
        return console.read_line("")


def _line(body: Mapping[str, Any]) -> None:
    console.say_json(body, one_line=True)
