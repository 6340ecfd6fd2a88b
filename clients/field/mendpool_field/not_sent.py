"""Why what waits could not be sent the last time, for `mendpool outbox` to tell.

It may be lost or left unwritten without harm: what waits is kept apart from it.
"""

from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path

from mendpool_field.disk import read_object, remove_durably, write_object
from mendpool_field.errors import DamagedFile, NewerFile


@dataclass(frozen=True, slots=True)
class NotSent:
    """What was in the way.

    Args:
        says: a sentence.
        at: when, in seconds since 1970.
    """

    says: str
    at: float


def keep_why(home: Path, why: NotSent | None) -> None:
    """Keep what was in the way of the last try; None where nothing was."""
    file = _file(home)
    # A full disk must not make a saved report look like a lost one.
    with suppress(OSError, NewerFile):
        if why is not None:
            write_object(file, asdict(why))
        elif file.exists():
            remove_durably(file)


def kept_why(home: Path) -> NotSent | None:
    """Return what was in the way of the last try, as far as it is known."""
    try:
        found = read_object(_file(home)) or {}
    except (OSError, DamagedFile, NewerFile):
        return None
    says, at = found.get("says"), found.get("at")
    return NotSent(says, at) if isinstance(says, str) and isinstance(at, float) else None


def _file(home: Path) -> Path:
    return home / "not-sent.json"
