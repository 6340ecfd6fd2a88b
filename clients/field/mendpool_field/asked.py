"""The last question about each set, kept so that the next one only adds to it.

`asked/barn.json` is the last one about barn, with everything told since; `asked.json` says
which set the very last one was about. Only their owner can read them.
"""

from collections.abc import Iterator, Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any

from mendpool_field.disk import read_object, write_object
from mendpool_field.errors import BadUsage, DamagedFile

NO_SET = "_"
"""Stands for a set that was not named; no set can be called so."""


def keep_question(home: Path, on: str | None, question: Mapping[str, Any]) -> None:
    """Keep a question as the last one about a set."""
    name = name_of(on)
    write_object(_of(home, name), dict(question))
    write_object(_last(home), {"on": name})


def last_question(home: Path, on: str | None) -> dict[str, Any]:
    """Return the last question about a set; without a name the very last one.

    Raises:
        BadUsage: none was asked yet.
        DamagedFile: the file holds something else.
    """
    name = name_of(on) if on else last_asked_about(home)
    found = read_object(_of(home, name)) if name is not None else None
    if found is not None:
        return found
    if on:
        raise BadUsage(
            f"There is no last question about {name} to go on from.",
            f'Ask one first: mendpool ask --on {name} "runs but no power"',
        )
    raise BadUsage(
        "There is no last question to go on from.",
        'Ask one first: mendpool ask "runs but no power"',
    )


def last_asked_about(home: Path) -> str | None:
    """Return which set the very last question was about; None where there was none."""
    name = (read_object(_last(home)) or {}).get("on")
    # It names a file: take nothing for it that `name_of` would not write.
    return name if isinstance(name, str) and name and name == Path(name).name else None


def questions_kept(home: Path) -> Iterator[tuple[str, float, dict[str, Any]]]:
    """Give the last question about each set: its name, when it was kept, and the question.

    One that can't be read is left out; when is seconds since 1970.
    """
    folder = home / "asked"
    for path in sorted(folder.glob("*.json")) if folder.is_dir() else ():
        with suppress(DamagedFile, OSError):
            when_s = path.stat().st_mtime
            yield path.stem, when_s, read_object(path) or {}


def name_of(on: str | None) -> str:
    """Return the name things about a set are kept under."""
    return on.strip().lower() if on else NO_SET


def _of(home: Path, name: str) -> Path:
    return home / "asked" / f"{name}.json"


def _last(home: Path) -> Path:
    return home / "asked.json"
