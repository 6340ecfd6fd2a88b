"""Where the member's own copy of the pool lies, and what is known of it.

`copy/state.json` names the folder that counts; it is put in place in one step, so a copy that
is being fetched stands beside the old one until it is whole. All of `copy/` may be thrown
away: nothing in it is the only one. The outbox lies elsewhere and is never touched here.
"""

import shutil
from collections.abc import Iterator
from contextlib import AbstractContextManager, suppress
from dataclasses import asdict, dataclass
from pathlib import Path
from uuid import UUID

from mendpool_field.disk import locked, make_folder, read_object, remove_durably, write_object
from mendpool_field.errors import DamagedFile

FORMAT = 1
"""Raised when what is kept changes, so that an older copy is fetched anew."""

_STATE = "state.json"
_FILE = "pool.sqlite3"
_PART = "part-"


@dataclass(frozen=True, slots=True)
class CopyState:
    """What is known of a copy.

    Args:
        format: of the files, see `FORMAT`.
        folder: its name in `copy/`.
        pool: the id of the pool it is of.
        url: where that pool answered.
        derived: the version its cases were derived with.
        synced: when it was last up to date, in seconds since 1970 by this machine's clock.
        reports: how many it held then.
    """

    format: int
    folder: str
    pool: str
    url: str
    derived: str
    synced: float
    reports: int


class CopyPlace:
    """The folder of a member's copy."""

    def __init__(self, home: Path) -> None:
        self._lock = home / "copy.lock"
        self.path = home / "copy"

    def state(self) -> CopyState | None:
        """Return what is known of the copy; None where there is none that can be used."""
        try:
            found = read_object(self.path / _STATE)
            state = CopyState(**found) if found is not None else None
            if state is None or state.format != FORMAT or not _is_name(state.folder):
                return None
            UUID(state.pool)
        except (DamagedFile, OSError, TypeError, ValueError, AttributeError):
            return None
        return state if self.file(state.folder).is_file() else None

    def had_one(self) -> bool:
        """Tell whether something lies there, whatever it is worth."""
        return (self.path / _STATE).exists()

    def keep(self, state: CopyState) -> None:
        """Make a copy the one that counts, and drop the others.

        Raises:
            OSError: the one before still counts.
        """
        write_object(self.path / _STATE, asdict(state))
        for other in self._folders():
            if other.name != state.folder:
                shutil.rmtree(other, ignore_errors=True)

    def discard(self) -> None:
        """Throw away a copy that can't be used; a part that is being fetched stays.

        Raises:
            OSError: it can't be written there.
        """
        remove_durably(self.path / _STATE)
        for folder in self._folders():
            shutil.rmtree(folder, ignore_errors=True)

    def file(self, folder: str) -> Path:
        """Return where the reports of a copy are."""
        return self.path / folder / _FILE

    def index(self, folder: str) -> Path:
        """Return where the index of a copy is."""
        return self.path / folder / "index"

    def begin(self, folder: str) -> Path:
        """Return the file of a copy that is being made; what lay there is dropped.

        Raises:
            OSError: it can't be written there.
        """
        shutil.rmtree(self.path / folder, ignore_errors=True)
        make_folder(self.path / folder)
        return self.file(folder)

    def part(self, name: str) -> Path:
        """Return where a packed feed is fetched to; parts of others are dropped.

        Raises:
            OSError: it can't be written there.
        """
        make_folder(self.path)
        wanted = self.path / f"{_PART}{name}"
        for other in self.path.glob(f"{_PART}*"):
            if other != wanted:
                with suppress(OSError):
                    other.unlink()
        return wanted

    def syncing(self) -> AbstractContextManager[bool]:
        """Hold the right to write: one process at a time; yields whether it is ours."""
        return locked(self._lock, wait=False)

    def _folders(self) -> Iterator[Path]:
        found = sorted(self.path.iterdir()) if self.path.is_dir() else []
        return (path for path in found if path.is_dir())


def age_text(state: CopyState, now_s: float) -> str:
    """Say how old a copy is and how much it holds: ``3 days ago, 412 reports``."""
    return f"{ago(now_s - state.synced)}, {reports_text(state.reports)}"


def reports_text(count: int) -> str:
    """Say how many reports there are: ``1 report``, ``412 reports``."""
    return "1 report" if count == 1 else f"{count:,} reports"


_UNITS = ((86400 * 7, "week"), (86400, "day"), (3600, "hour"), (60, "minute"))
_WEEKS_FROM_S = 86400 * 60
_CLOCK_SLIP_S = 300
_TOO_OLD_S = 86400 * 365 * 5


def ago(seconds: float) -> str:
    """Say how long ago something was, in one unit."""
    if seconds < -_CLOCK_SLIP_S or seconds > _TOO_OLD_S:
        return "a day this machine's clock can't tell"
    if seconds < 60:
        return "just now"
    for length, unit in _UNITS:
        if seconds >= (_WEEKS_FROM_S if unit == "week" else length):
            count = int(seconds // length)
            return f"{count} {unit}{'' if count == 1 else 's'} ago"
    raise AssertionError  # pragma: no cover - a minute at least


def _is_name(name: object) -> bool:
    return isinstance(name, str) and bool(name) and name == Path(name).name != ".."
