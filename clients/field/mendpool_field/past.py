"""What each of the member's sets read when nothing was wrong, kept beside the plates."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from mendpool_field.disk import locked, read_object, write_object

KEPT_MOST = 300
"""As many as the service takes in one question."""


def past_of(home: Path, name: str) -> list[dict[str, Any]]:
    """Return a set's good readings, oldest first.

    Raises:
        DamagedFile: the file holds something else.
    """
    kept = (read_object(_file(home)) or {}).get(name.strip().lower())
    return [one for one in kept if isinstance(one, dict)] if isinstance(kept, list) else []


def keep_past(home: Path, name: str, readings: Sequence[Mapping[str, Any]]) -> None:
    """Keep more good readings of a set; the oldest go where there are too many."""
    if not readings:
        return
    with locked(home / "past.lock", wait=True):
        kept = read_object(_file(home)) or {}
        name = name.strip().lower()
        whole = [*past_of(home, name), *(dict(reading) for reading in readings)]
        write_object(_file(home), {**kept, name: whole[-KEPT_MOST:]})


def _file(home: Path) -> Path:
    return home / "past.json"
