"""The command's ears and mouth: what it prints, reads, and takes from the world.

stdout carries what was asked for, stderr the talk about it.
"""

import json
import os
import random
import shutil
import sys
import time
import traceback
from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn, TextIO

import typer

from mendpool_field.exitcodes import ExitCode
from mendpool_field.settings import Service, Settings, load_settings

if TYPE_CHECKING:
    from mendpool.core.catalogue.catalogue import Catalogue
    from mendpool.core.diagnosis.engine import Engine
    from mendpool_field.flush import Patience
    from mendpool_field.gateway import Gateway
    from mendpool_field.offline import Here
    from mendpool_field.questions import Step

_PAUSE_S = (0.1, 0.5)
_TRIES, _LONGEST_PAUSE_S = 4, 30.0


def say(text: str) -> None:
    """Print what was asked for."""
    _write(sys.stdout, text)


def talk(text: str) -> None:
    """Print a remark about it, wrapped."""
    from mendpool_field.layout import para

    _write(sys.stderr, "\n".join("\n".join(para(line, width())) for line in text.split("\n")))


def talk_command(line: str) -> None:
    """Print a command to type, in one piece where it fits."""
    indent = "    " if len(line) + 4 <= width() else ""
    talk_as_is(indent + line) if len(indent + line) <= width() else talk(line)


def talk_as_is(text: str) -> None:
    """Print a remark whose lines are set already."""
    _write(sys.stderr, text)


def say_json(body: object, *, one_line: bool = False) -> None:
    """Print JSON, in ASCII so that no terminal and no pipe can spoil it."""
    say(json.dumps(body, indent=None if one_line else 2))


def width() -> int:
    """Return how many columns to write for."""
    from mendpool_field.layout import fit_width

    return fit_width(shutil.get_terminal_size((80, 24)).columns)


def read_line(prompt: str) -> str:
    """Ask for a line; the question goes to stderr, so that stdout stays data.

    Raises:
        EOFError: there is no more to read.
    """
    sys.stderr.write(prompt)
    sys.stderr.flush()
    line = sys.stdin.readline()
    if not line:
        raise EOFError
    return line.rstrip("\r\n")


def read_file(name: str) -> str:
    """Return the text of a file; ``-`` is stdin.

    Raises:
        BadUsage: there is none, or it is no text.
    """
    from mendpool_field.errors import BadUsage

    try:
        return sys.stdin.read() if name == "-" else Path(name).read_text("utf-8-sig")
    except (FileNotFoundError, IsADirectoryError):
        raise BadUsage(f"There is no file {name}.", "Check its name and folder.") from None
    except UnicodeDecodeError:
        raise BadUsage(f"{name} is no text.", "Save it in UTF-8.") from None


def read_object_file(name: str) -> dict[str, Any]:
    """Return the JSON object of a file; ``-`` is stdin.

    Raises:
        BadUsage: there is none, or it holds something else.
    """
    from mendpool_field.errors import BadUsage

    try:
        found = json.loads(read_file(name))
    except (ValueError, RecursionError) as error:
        says = f"{name} holds no JSON: {error}."
        raise BadUsage(says, "Mend it and try again.") from None
    if not isinstance(found, dict):
        raise BadUsage(f"{name} holds no body.", "It must be one JSON object, { ... }.")
    return found


def draws() -> bool:
    """Tell whether the terminal's encoding has the characters of a drawing."""
    encoding = getattr(sys.stdout, "encoding", None) or "ascii"
    try:
        "\u2588\u2504".encode(encoding)
    except (LookupError, UnicodeEncodeError):
        return False
    return True


def draws_to_someone() -> bool:
    """Tell whether what is printed goes to a terminal rather than into a file or printer."""
    return sys.stdout.isatty()


def is_listened_to() -> bool:
    """Tell whether what is printed may be read aloud, or shown where only words can be.

    So it is in a pipe, on a dumb terminal and with NO_COLOR: there nothing is drawn, and a
    question says its keys in words.
    """
    plain = environment("TERM") == "dumb" or environment("NO_COLOR") is not None
    return plain or not (sys.stdout.isatty() and sys.stderr.isatty())


def someone_is_there() -> bool:
    """Say whether a person is typing, rather than a pipe or a script."""
    return sys.stdin.isatty()


def read_secret(prompt: str) -> str:
    """Ask for a token without showing it; from a pipe it is the first line."""
    if not sys.stdin.isatty():
        return sys.stdin.readline()
    from getpass import getpass

    return getpass(prompt, stream=sys.stderr)


def read_step(step: "Step") -> str:
    """Ask one question of a dialogue."""
    from mendpool_field.layout import para

    trouble = para(step.trouble, width(), first="! ", rest="  ") if step.trouble else []
    if is_listened_to():
        return read_line("\n".join(["", *trouble, *_step_in_words(step)]) + " ")
    lines = ["", *para(step.asks, width())]
    for key, words in step.choices:
        lines += para(words, width(), first=f"  {key}  ")
    lines += para(f"({step.hint})", width())
    # Last, for a long list pushes what stands above it off a small screen.
    lines += trouble
    return read_line("\n".join(lines) + "\n> ")


def wants_yes(question: str) -> bool:
    """Ask for a yes; Enter is one.

    Raises:
        EOFError: nobody is there to answer.
    """
    spoken = f"{question} Enter means yes, n means no. Yes or no? "
    asked = spoken if is_listened_to() else f"{question} [Enter = yes, n = no] "
    while True:
        typed = read_line(asked).strip().lower()
        if typed in {"", "y", "yes"}:
            return True
        if typed in {"n", "no"}:
            return False


def settings() -> Settings:
    """Return the settings of this run."""
    return load_settings(os.environ)


def open_gateway(known: Settings) -> "Gateway":
    """Open the way to the service.

    Raises:
        NoPool: none was joined.
    """
    return open_service(known.needed_service())


def open_service(service: Service) -> "Gateway":
    """Open the way to a service that need not be joined yet."""
    from mendpool_field.gateway import Gateway

    return Gateway(service, pause=_pause)


def patience() -> "Patience":
    """Return how a service that fails, or asks to wait, is tried again by `sync`."""
    from mendpool_field.flush import Patience

    return Patience(_TRIES, _LONGEST_PAUSE_S, _sleep, random.random)


def catalogue(known: Settings) -> "Catalogue":
    """Return the catalogue that came with the command; its checked form is kept at hand."""
    from mendpool.core.catalogue.files import packaged_catalogue

    return packaged_catalogue(known.cache)


def here(known: Settings) -> "Here":
    """Return who answers without the network: the member's copy, else the catalogue."""
    from mendpool_field.offline import Here

    return Here(known.home, catalogue(known), talk, now_s(), lambda: engine(known))


def engine(known: Settings) -> "Engine":
    """Return the engine of the catalogue, with the words that were cut before at hand."""
    from mendpool_field.engine_kept import ready_engine

    return ready_engine(catalogue(known), known.cache)


def this_month() -> str:
    """Return the month it is here."""
    return datetime.now(UTC).astimezone().strftime("%Y-%m")


def now_s() -> float:
    """Return seconds since 1970."""
    return time.time()


def steady_s() -> float:
    """Return seconds that only rise, whatever happens to the clock."""
    return time.monotonic()


def new_id() -> str:
    """Mint a UUIDv7."""
    from uuid_utils.compat import uuid7

    return str(uuid7())


def environment(name: str) -> str | None:
    """Return an environment variable, None where it is empty."""
    return os.environ.get(name) or None


def fail(error: Exception, *, with_trace: bool) -> NoReturn:
    """Put an error into a sentence and a next step, and end with its exit code."""
    from mendpool_field.explain import explain

    if with_trace:
        traceback.print_exception(error)
    told = explain(error)
    _write(sys.stderr, "\n".join(_wrapped(told.says)))
    _write(sys.stderr, "\n".join(_wrapped(told.do, "Next: ")))
    raise typer.Exit(told.code)


def end(code: ExitCode) -> NoReturn:
    """End with an exit code."""
    raise typer.Exit(code)


def show(body: Mapping[str, Any], text: str, *, as_json: bool) -> None:
    """Print a result either way."""
    if as_json:
        say_json(body)
    else:
        say(text)


def _step_in_words(step: "Step") -> list[str]:
    """A question whose end is heard last, when it is time to answer."""
    from mendpool_field.layout import para

    lines = para(step.asks, width())
    for key, words in step.choices:
        lines += para(f"Key {key}: {words}.", width(), rest="  ")
    lines += para(f"{step.hint.rstrip('.')}.", width())
    return [*lines, "Your answer?"]


def _sleep(seconds: float) -> None:
    time.sleep(seconds)


def _pause() -> None:
    _sleep(random.uniform(*_PAUSE_S))  # noqa: S311 - spreads retries, guards nothing


def _wrapped(text: str, first: str = "") -> list[str]:
    from mendpool_field.layout import para

    lines: list[str] = []
    for line in text.split("\n"):
        indent = line[: len(line) - len(line.lstrip())]
        lines += para(line, width(), first=first or indent, rest="  " + indent)
        first = ""
    return lines


def _write(stream: TextIO, text: str) -> None:
    """Print whatever the terminal's own encoding can show; the rest becomes a question mark."""
    encoding = getattr(stream, "encoding", None) or "utf-8"
    stream.write(text.encode(encoding, "replace").decode(encoding, "replace") + "\n")
    stream.flush()
