"""Files that survive a pulled battery: written whole or not at all, and locked."""

import json
import os
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO, Any

from mendpool_field.errors import DamagedFile, NewerFile

if sys.platform == "win32":
    import msvcrt
else:
    import fcntl

PART = ".part-"
"""How the name of a half-written file begins; nothing ever reads one."""
FORM = 1
"""The form of what is kept. A file of form 1 does not say so; a later one must, as `form`, so
that this code leaves it alone. Files of every form there was lie in tests/field/forms."""


def write_durably(path: Path, content: bytes) -> None:
    """Write a file so that it is there, whole, after a power cut; only its owner reads it.

    Written beside, flushed to the disk, renamed over, and the folder flushed too: when
    this returns the name and the bytes are both on the disk.

    Raises:
        OSError: nothing was changed.
    """
    folder = path.parent
    make_folder(folder)
    handle, name = tempfile.mkstemp(prefix=PART, dir=folder)  # mode 0600
    part = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        part.replace(path)
    except BaseException:
        with suppress(OSError):
            part.unlink()
        raise
    _flush_folder(folder)


def make_folder(folder: Path) -> None:
    """Make a folder, and those above it, for its owner's eyes only."""
    if folder.is_dir():
        return
    make_folder(folder.parent)
    with suppress(FileExistsError):
        folder.mkdir(mode=0o700)
    _flush_folder(folder.parent)


def remove_durably(path: Path) -> None:
    """Remove a file for good; one that is not there is no error."""
    path.unlink(missing_ok=True)
    if path.parent.is_dir():
        _flush_folder(path.parent)


def read_object(path: Path) -> dict[str, Any] | None:
    """Return the JSON object a file holds, None where there is no file.

    Raises:
        DamagedFile: it holds something else.
        NewerFile: it is of a form that only a newer mendpool knows.
    """
    try:
        found = json.loads(path.read_bytes())
    except (FileNotFoundError, NotADirectoryError):
        return None
    except ValueError as error:
        raise DamagedFile(path, "it is not JSON") from error
    if not isinstance(found, dict):
        raise DamagedFile(path, "it holds no JSON object")
    form = found.get("form", FORM)  # a set may be called so: its plate is no number
    if isinstance(form, int) and form > FORM:
        raise NewerFile(path)
    return found


def write_object(path: Path, content: dict[str, Any]) -> None:
    """Write a JSON object durably.

    Raises:
        OSError: nothing was changed.
        NewerFile: what a newer mendpool kept lies there; it is not written over.
    """
    try:
        read_object(path)
    except NewerFile:
        raise
    except (DamagedFile, OSError):
        pass  # what can't be read is no loss
    write_durably(path, json.dumps(content, ensure_ascii=False, indent=1).encode())


@contextmanager
def locked(path: Path, *, wait: bool) -> Iterator[bool]:
    """Hold a lock that the system lets go of when the process dies.

    Args:
        path: a file that only this lock uses.
        wait: wait for whoever holds it; otherwise give up at once.

    Yields:
        Whether it is held.
    """
    make_folder(path.parent)
    with path.open("ab") as file:
        held = _take(file, wait=wait)
        try:
            yield held
        finally:
            if held:
                _let_go(file)


if sys.platform == "win32":

    def _take(file: IO[bytes], *, wait: bool) -> bool:
        file.seek(0)
        while True:
            try:
                msvcrt.locking(file.fileno(), msvcrt.LK_LOCK if wait else msvcrt.LK_NBLCK, 1)
            except OSError:
                if not wait:
                    return False
            else:
                return True

    def _let_go(file: IO[bytes]) -> None:
        file.seek(0)
        msvcrt.locking(file.fileno(), msvcrt.LK_UNLCK, 1)

    def _flush_folder(folder: Path) -> None:
        """Windows has no way to flush a folder; a rename there is journalled."""

else:

    def _take(file: IO[bytes], *, wait: bool) -> bool:
        try:
            fcntl.flock(file, fcntl.LOCK_EX if wait else fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True

    def _let_go(file: IO[bytes]) -> None:
        fcntl.flock(file, fcntl.LOCK_UN)

    def _flush_folder(folder: Path) -> None:
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
