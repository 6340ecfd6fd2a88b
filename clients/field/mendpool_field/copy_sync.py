"""Bring the member's own copy up to date: the first time all of it, then what is new."""

import secrets
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING, Any
from uuid import UUID

from mendpool.core.errors import MendpoolError, TemporarilyImpossible
from mendpool.core.evidence.fit_format import fit_version
from mendpool.usecases.own_copy import NotAFeed, Taking, in_pages, index_copy
from mendpool_field.copy_fetch import Fetching, Progress, Say, lines_of
from mendpool_field.copy_place import FORMAT, CopyPlace, CopyState
from mendpool_field.errors import AnotherPool, NotMendpool, Refused
from mendpool_field.own_copy import CopyFiles, opened
from mendpool_field.still_copy import hold_still

if TYPE_CHECKING:
    from mendpool.core.catalogue.catalogue import Catalogue
    from mendpool.store.copied import CopyStore
    from mendpool.usecases.derive_again import Deriver

_LINES = 1000
_NOT_FOUND = 404


@dataclass(frozen=True, slots=True)
class Brought:
    """What came of it.

    Args:
        state: ``current``; ``busy``: another mendpool is at it; ``none``: this pool hands out
            no copies.
        reports: how many the copy holds now.
        new, withdrawn: how many came and went.
        whole: whether all of it was fetched.
        bytes: how many were fetched.
        why: why all of it was fetched, where there was a copy before.
    """

    state: str
    reports: int = 0
    new: int = 0
    withdrawn: int = 0
    whole: bool = False
    bytes: int = 0
    why: str = ""


class CopySync:
    """One bringing up to date.

    Args:
        place: of the copy.
        url: of the pool.
        fetching: fetches from it.
        catalogue: with which cases are derived.
        deriver: derives those that bring none along.
        now_s: seconds since 1970.
        progress: is told.
        say: hears what is worth a sentence.
    """

    def __init__(
        self,
        place: CopyPlace,
        url: str,
        fetching: Fetching,
        catalogue: "Catalogue",
        deriver: "Deriver",
        now_s: float,
        progress: Progress,
        say: Say,
    ) -> None:
        self._place, self._url, self._fetching = place, url, fetching
        self._catalogue, self._deriver = catalogue, deriver
        self._now_s, self._now = now_s, datetime.fromtimestamp(now_s, UTC)
        self._progress, self._say = progress, say

    def bring(self, *, anew: bool = False) -> Brought:
        """Bring the copy up to date.

        Args:
            anew: drop what is held, of whatever pool it is.

        Raises:
            AnotherPool: the address answers for another pool than the copy is of.
            FieldError, OSError, TemporarilyImpossible: it stays as it was, or as far as it
                came; the next sync goes on from there.
        """
        with self._place.syncing() as ours:
            if not ours:
                return Brought("busy")
            if anew:
                self._place.discard()
            state = self._place.state()
            why = self._why_anew(state)
            try:
                if state is not None and not why:
                    why, brought = self._renew(state)
                    if brought is not None:
                        return brought
                return self._anew(state, why)
            except Refused as refused:
                if refused.status != _NOT_FOUND:
                    raise
                return Brought("none")

    def take_stick(self, file: Path) -> Brought:
        """Take a copy that another member packed, if it is newer than what is held.

        Returns:
            ``older`` where what is held is as new.

        Raises:
            BadUsage: it is no whole copy.
            AnotherPool: it is of another pool than the copy held.
        """
        from mendpool_field.copy_stick import head_of, lines_of_stick

        with self._place.syncing() as ours:
            if not ours:
                return Brought("busy")
            head = head_of(file)
            pool = _pool_id(head.get("pool"), self._url)
            state = self._place.state()
            if state is not None:
                self._check_pool(state, str(pool))
                with opened(self._files(state.folder)) as store:
                    if store.is_sound() and store.last_seq() >= int(head["upto"]):
                        return Brought("older", store.count_reports())
            return self._made(
                state,
                pool,
                float(head["synced"]),
                lambda taking, _: self._take(taking, lines_of_stick(file), int(head["lines"])),
            )

    def _why_anew(self, state: CopyState | None) -> str:
        """Say why what is held can't be gone on from; nothing where it can."""
        if state is None:
            return "it could not be used" if self._place.had_one() else ""
        if state.derived != self._deriver.version:
            return "it was made by another version of mendpool"
        try:
            with opened(self._files(state.folder)) as store:
                if store.is_sound() and str(store.pool_settings().pool_id) == state.pool:
                    return ""
        except TemporarilyImpossible:
            raise
        except MendpoolError:
            pass
        self._place.discard()
        return "it was damaged"

    def _renew(self, state: CopyState) -> tuple[str, Brought | None]:
        """Take what is new into the copy; or say why it must be fetched anew."""
        with opened(self._files(state.folder)) as store:
            last = store.last_seq()
            seen = sorted({last, store.last_said()} - {0})
            page = self._fetching.page(last, self._deriver.version, seen)
            self._check_pool(state, page["pool"])
            if page.get("seen", []) != [list(line) for line in store.lines_at(seen)]:
                return "the pool was put back to an older state", None
            taking = self._taking(store)
            self._follow(taking, page)
            self._index(store, state.folder, forget=taking.withdrawn > 0 or taking.fits > 0)
            reports = store.count_reports()
        fresh = replace(state, url=self._url, synced=self._now_s, reports=reports)
        self._place.keep(fresh)
        brought = Brought("current", reports, taking.reports, taking.withdrawn)
        return "", replace(brought, bytes=self._fetching.bytes)

    def _anew(self, state: CopyState | None, why: str) -> Brought:
        if why:
            self._say(f"Your copy is fetched anew: {why}.")
        told = self._fetching.packed()
        pool = told.get("pool")
        if state is not None and isinstance(pool, str):
            self._check_pool(state, pool)
        part = None
        if told.get("name") is not None:
            part = self._fetching.fetch(_promised(told, self._url), self._place)
        else:
            first = self._fetching.page(0, self._deriver.version)
            pool = first["pool"]
        if state is not None:
            self._check_pool(state, str(pool))

        def fill(taking: Taking, store: "CopyStore") -> None:
            if part is not None:
                self._unpack(taking, part, int(told["lines"]))
            self._follow(taking, self._fetching.page(store.last_seq(), self._deriver.version))

        brought = self._made(state, _pool_id(pool, self._url), self._now_s, fill)
        if part is not None:
            with suppress(OSError):
                part.unlink()
        return replace(brought, bytes=self._fetching.bytes, why=why)

    def _made(
        self,
        state: CopyState | None,
        pool: UUID,
        synced_s: float,
        fill: Callable[[Taking, "CopyStore"], None],
    ) -> Brought:
        """Make a copy beside the one that counts, and let it count once it is whole."""
        folder = self._unused(state)
        file = self._place.begin(folder)
        with opened(CopyFiles(file, self._place.index(folder))) as store:
            store.begin(pool, secrets.token_bytes(32), self._now)
            taking = self._taking(store)
            fill(taking, store)
            self._index(store, folder, forget=True)
            reports = store.count_reports()
        version = self._deriver.version
        self._place.keep(
            CopyState(FORMAT, folder, str(pool), self._url, version, synced_s, reports)
        )
        return Brought("current", reports, taking.reports, taking.withdrawn, whole=True)

    def _taking(self, store: "CopyStore") -> Taking:
        return Taking(store, self._deriver, self._catalogue, self._now)

    def _unpack(self, taking: Taking, part: Path, lines: int) -> None:
        try:
            told = lines_of(part)
            next(told)
            self._take(taking, told, lines)
        except (ValueError, StopIteration, NotAFeed) as error:
            part.unlink()
            raise NotMendpool(self._url, 200) from error

    def _take(self, taking: Taking, told: Iterator[dict[str, Any]], lines: int) -> None:
        for number, page in enumerate(in_pages(told, _LINES)):
            taking.take(page)
            words = f"Taking it in: {number * _LINES + len(page):,} of {lines:,} lines."
            self._progress.at(words)

    def _follow(self, taking: Taking, page: Mapping[str, Any]) -> None:
        """Take pages up to the end of the feed; each is kept before the next is asked for."""
        while True:
            try:
                taking.take(page["items"])
            except NotAFeed as error:
                raise NotMendpool(self._url, 200) from error
            after = page.get("next")
            if not isinstance(after, int):
                return
            self._progress.at(f"{taking.reports:,} new reports so far.")
            page = self._fetching.page(after, self._deriver.version)

    def _index(self, store: "CopyStore", folder: str, *, forget: bool) -> None:
        files = self._files(folder)
        index_copy(store, files.folder(self._catalogue), whole=forget)
        hold_still(store, files.reports.parent, fit_version(self._catalogue.version))

    def _files(self, folder: str) -> CopyFiles:
        return CopyFiles(self._place.file(folder), self._place.index(folder))

    def _check_pool(self, state: CopyState, pool: str) -> None:
        if pool != state.pool:
            raise AnotherPool(self._url, state.url)

    def _unused(self, state: CopyState | None) -> str:
        taken = None if state is None else state.folder
        return next(name for n in count(1) if (name := f"c{n}") != taken)


def _promised(told: Mapping[str, Any], url: str) -> Mapping[str, Any]:
    """Return what was told of a packed feed, if it can be so.

    Raises:
        NotMendpool: it can't.
    """
    name, digest = told.get("name"), told.get("sha256")
    whole = all(isinstance(told.get(n), int) for n in ("size", "lines", "upto"))
    if not whole or not isinstance(digest, str) or not isinstance(name, str):
        raise NotMendpool(url, 200)
    if not name.replace("-", "").isalnum() or not name.isascii():  # it names a file
        raise NotMendpool(url, 200)
    return told


def _pool_id(told: object, url: str) -> UUID:
    try:
        return UUID(str(told))
    except ValueError:
        raise NotMendpool(url, 200) from None
