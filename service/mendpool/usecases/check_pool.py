"""Check a pool beyond its database: the index, the derived cases, and what names anyone."""

import json
import re
from collections import Counter
from collections.abc import Iterator
from typing import Any
from uuid import UUID

from mendpool.core.diagnosis.derive import derived_version
from mendpool.index.folder import Folder
from mendpool.index.view import Closed
from mendpool.store.pool_store import PoolStore
from mendpool.store.sound import RESTORE, Finding, database_findings
from mendpool.store.values import Change, StaleCase
from mendpool.usecases.derive_again import cases_again
from mendpool.usecases.workplace import GIVEN, Workplace

_PAGE = 500
_NAMED_MOST = 5
_MADE_HERE = ("cautions", "removed", GIVEN)
_HEX = re.compile(r"[0-9a-f]{64}")
_MIGRATE = "Run `mendpool pool migrate`; reports stay as they are."
_INDEX = "Stop the service and remove the index's folder; the next start makes it anew."
_SCRUB = "Look at them with `mendpool show` and withdraw them; their member can send anew."


def pool_findings(
    place: Workplace, folder: Folder, *, quick: bool = False
) -> Iterator[Finding]:
    """Check everything, in the order in which it should be put right.

    Args:
        folder: where the index of this code is kept.
        quick: leave out what reads the words of each report again.
    """
    store = place.store
    found = database_findings(store.engine)
    yield from found
    if any(finding.part == "database" for finding in found):
        return
    yield from _index(store, folder)
    yield from _hashes(store)
    yield from _cases(place, quick=quick)
    if not quick:
        yield from _words(place)


def _index(store: PoolStore, folder: Folder) -> Iterator[Finding]:
    """Compare what lies on disk, report by report, with what the database holds."""
    if not folder.newest_seq():
        return  # there is none yet: a small pool, or one never served here
    loaded = folder.load()
    if loaded is None:
        yield Finding("index", "the index on disk is damaged", _INDEX)
        return
    kept, last = loaded.closed, store.last_seq()
    if kept.seq > last:
        says = (
            f"the index on disk knows {kept.seq} lines of the feed and the database {last}: an"
            " older file was put back, or the log beside it (-wal) is missing"
        )
        todo = "If it was no restore of yours, put the log back or restore a newer backup."
        yield Finding("index", says, todo)
        return
    indexed = _indexed(kept)
    wrong = []
    for change in _changes(store):
        if change.kind != "report" or change.seq > kept.seq:
            continue
        terms = indexed.pop(change.seq, None)
        # One that was taken back may stand in the index until that is tidied.
        if change.body is not None and terms != frozenset(
            _read(change.case_body).get("terms", ())
        ):
            wrong.append(change.seq)
    wrong += indexed
    if wrong:
        yield Finding("index", f"the index on disk disagrees with {_named(wrong)}", _INDEX)


def _indexed(kept: Closed) -> dict[int, frozenset[str]]:
    """Return the words of every report in closed segments, by the report's number."""
    found = {}
    for part in kept.parts:
        forward = part.segment.forward
        for row, seq in enumerate(forward.seq.tolist()):
            if part.holds(row):
                numbers = forward.terms[int(forward.starts[row]) : int(forward.starts[row + 1])]
                found[seq] = frozenset(kept.names[number] for number in numbers.tolist())
    return found


def _hashes(store: PoolStore) -> Iterator[Finding]:
    bad = [m.id for m in store.list_members() if not _HEX.fullmatch(m.token_sha256)]
    if bad:
        says = f"{len(bad)} members' tokens are not kept as hashes"
        yield Finding("privacy", says, "Revoke them: `mendpool pool member revoke NAME`.")


def _cases(place: Workplace, *, quick: bool) -> Iterator[Finding]:
    version = derived_version(place.catalogue)
    other, differ, unread = 0, [], []
    for change in _reports(place.store):
        if not (_read(change.body) and _read(change.case_body)):
            unread.append(change.seq)
        elif change.derived_version != version:
            other += 1
        elif not quick and _differs(place, change):
            differ.append(change.seq)
    if unread:
        yield Finding("cases", f"{_named(unread)} can't be read", RESTORE)
    if other:
        yield Finding("cases", f"{other} cases are of another version", _MIGRATE)
    if differ:
        says = f"the derived cases of {_named(differ)} are not what the reports give"
        yield Finding("cases", says, RESTORE)


def _differs(place: Workplace, change: Change) -> bool:
    stale = StaleCase(_id(change), change.seq, str(change.body))
    made = cases_again(place.learned.engine, [stale])
    return bool(made) and made[0][1] != change.case_body


def _words(place: Workplace) -> Iterator[Finding]:
    """Scrub everything that lies there once more; nothing should be left to take out."""
    kinds: Counter[str] = Counter()
    seqs = []
    for change in _changes(place.store):
        body = _read(change.body)
        kept = {name: told for name, told in body.items() if name not in _MADE_HERE}
        _, removed = place.scrub({**kept, **body.get(GIVEN, {})})
        if removed:
            kinds.update(removed)
            seqs.append(change.seq)
    if seqs:
        what = ", ".join(f"{count} {kind}" for kind, count in sorted(kinds.items()))
        yield Finding(
            "privacy", f"the scrubber would take {what} out of {_named(seqs)}", _SCRUB
        )


def _changes(store: PoolStore) -> Iterator[Change]:
    after = 0
    while page := store.changes_after(after, _PAGE):
        yield from page
        after = page[-1].seq


def _reports(store: PoolStore) -> Iterator[Change]:
    return (c for c in _changes(store) if c.kind == "report" and c.body is not None)


def _read(text: str | None) -> dict[str, Any]:
    """Return a stored object; an empty one where there is none or it can't be read."""
    try:
        found = json.loads(text or "{}")
    except ValueError:
        return {}
    return found if isinstance(found, dict) else {}


def _id(change: Change) -> UUID:
    return UUID(change.ref)


def _named(seqs: list[int]) -> str:
    first = ", ".join(map(str, sorted(seqs)[:_NAMED_MOST]))
    more = ", …" if len(seqs) > _NAMED_MOST else ""
    return f"{len(seqs)} lines of the feed ({first}{more})"
