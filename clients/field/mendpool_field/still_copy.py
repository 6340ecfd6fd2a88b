"""A copy that nobody writes to, read without its database.

After a sync the index holds every report, and beside it lie the fit and the last line of the
feed. That is all an answer needs; to load what reads a database would take a quarter of the
time of a cold answer. Whatever else is asked, or what does not fit together, goes to the
database.
"""

import hashlib
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any
from uuid import UUID

from mendpool.store.values import CaseRow, Fit
from mendpool_field.disk import read_object, write_durably, write_object
from mendpool_field.errors import DamagedFile

if TYPE_CHECKING:
    from collections.abc import Callable

    from mendpool.store.copied import CopyStore

_ABOUT, _FIT = "still.json", "fit.json"
_NO_TIME = datetime(1970, 1, 1, tzinfo=UTC)
"""When a fit was made is asked by nobody."""


class StillStore:
    """Stands for the store of a copy as far as an answer needs it.

    Args:
        folder: of the copy.
        open_store: opens its database, when that is wanted after all.
    """

    def __init__(self, folder: Path, open_store: "Callable[[], CopyStore]") -> None:
        self._folder, self._open = folder, open_store
        self._about = _about(folder)
        self._store: CopyStore | None = None

    def last_withdrawal(self) -> int:
        """Return the number of the newest withdrawal; in a copy no fit depends on it."""
        return 0

    def cases_after(self, seq: int, limit: int) -> list[CaseRow]:
        """Return lines of the feed as the index reads them; see `Feed`."""
        last = self._about.get("seq")
        if last is not None and limit and seq == last:
            return []
        if last is not None and limit and seq == last - 1:
            report = self._about["report"]
            name = None if report is None else UUID(report)
            return [CaseRow(last, self._about["kind"], name, None, None, None, None)]
        return self.whole.cases_after(seq, limit)

    def vouched_since(self, upto: int) -> frozenset[int]:
        """Return whom their own reports vouch for; see `Cases`."""
        held = self._about.get("vouched")
        if held is None or upto != self._about.get("seq"):
            return self.whole.vouched_since(upto)
        return frozenset(held)

    def newest_fit(self, version: str) -> Fit | None:
        """Return the fit of this version; see `Fits`."""
        if self._about.get("version") != version:
            return self.whole.newest_fit(version)
        told = self._about["fit"]
        if told is None:  # there is none
            return None
        try:
            body = (self._folder / _FIT).read_bytes()
        except OSError:
            return self.whole.newest_fit(version)
        if hashlib.sha256(body).hexdigest() != told["sha256"]:
            return self.whole.newest_fit(version)
        return Fit(told["seq"], told["cut"], version, _NO_TIME, body)

    @property
    def whole(self) -> "CopyStore":
        """The store itself."""
        if self._store is None:
            self._store = self._open()
        return self._store

    def close(self) -> None:
        """Let go of the database, if it was opened."""
        if self._store is not None:
            self._store.engine.dispose()

    def __getattr__(self, name: str) -> Any:  # noqa: ANN401 - whatever a store has
        return getattr(self.whole, name)


def hold_still(store: "CopyStore", folder: Path, version: str) -> None:
    """Put beside a copy what an answer needs of its database.

    Args:
        store: of the copy, its index brought up to date.
        folder: of the copy.
        version: of the fit that is wanted.

    Raises:
        OSError: it can't be written there; the database answers.
    """
    last = store.last_seq()
    lines = store.cases_after(last - 1, 1) if last else []
    if not lines:
        return
    fit = store.newest_fit(version)
    about: dict[str, Any] = {
        "seq": last,
        "kind": lines[0].kind,
        "report": None if lines[0].report_id is None else str(lines[0].report_id),
        "version": version,
        "vouched": sorted(store.vouched_since(last)),
        "fit": None,
    }
    if fit is not None:
        digest = hashlib.sha256(fit.body).hexdigest()
        about["fit"] = {
            "seq": fit.seq, "cut": fit.cut_seq, "sha256": digest
        }  # fmt: skip
        if (_about(folder).get("fit") or {}).get("sha256") != digest:
            write_durably(folder / _FIT, fit.body)
    if about != _about(folder):
        write_object(folder / _ABOUT, about)


def _about(folder: Path) -> dict[str, Any]:
    try:
        return read_object(folder / _ABOUT) or {}
    except (DamagedFile, OSError):
        return {}
