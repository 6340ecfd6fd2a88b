"""The last question, kept so that the next one only adds to it."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from mendpool_field.disk import read_object, write_object
from mendpool_field.errors import BadUsage


def keep_question(home: Path, question: Mapping[str, Any]) -> None:
    """Keep a question as the last one."""
    write_object(home / "asked.json", dict(question))


def last_question(home: Path) -> dict[str, Any]:
    """Return the last question.

    Raises:
        BadUsage: none was asked yet.
        DamagedFile: the file holds something else.
    """
    found = read_object(home / "asked.json")
    if found is None:
        raise BadUsage(
            "There is no last question to go on from.",
            'Ask one first: mendpool ask "runs but no power"',
        )
    return found
