"""The bytes of photographs that wait: a file each beside the entry that tells of it.

The bytes are on the disk before the entry, the entries before their report: the report's
entry is what makes all of them count. A kill between leaves photographs of no report, which
are never sent and go with the next tidying.
"""

import hashlib
from pathlib import Path

from mendpool_field.disk import remove_durably, write_durably

SUFFIX = ".jpg"


class PhotoFiles:
    """The photographs in the folder of the outbox."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def keep(self, photo_id: str, jpeg: bytes) -> None:
        """Keep one; when this returns it outlives a power cut.

        Raises:
            OSError: it could not be kept.
        """
        write_durably(self._path(photo_id), jpeg)

    def whole(self, photo_id: str, sha256: str) -> bytes | None:
        """Return one as it was kept; None where it is gone or damaged."""
        try:
            jpeg = self._path(photo_id).read_bytes()
        except OSError:
            return None
        return jpeg if hashlib.sha256(jpeg).hexdigest() == sha256 else None

    def drop(self, photo_id: str) -> None:
        """Remove one for good; one that is not there is no error."""
        remove_durably(self._path(photo_id))

    def tidy(self, older_than_s: float) -> None:
        """Remove those that no entry tells of and that are older than a moment."""
        for path in self._folder.glob(f"*{SUFFIX}"):
            alone = not path.with_suffix(".json").exists()
            if alone and path.stat().st_mtime < older_than_s:
                remove_durably(path)

    def _path(self, photo_id: str) -> Path:
        return self._folder / f"{photo_id}{SUFFIX}"
