"""Hand out the change feed, for a member's own copy."""

import json
from collections.abc import Sequence
from typing import Any

from mendpool.core.evidence.fit_format import catalogue_of
from mendpool.store.values import Change
from mendpool.usecases.workplace import Workplace


def changes_after(
    place: Workplace, seq: int, limit: int, derived: str | None = None
) -> dict[str, Any]:
    """Return the changes after a number, in order, and the number to go on from.

    Reports carry `group`, which says only which of them share an author, never who.

    Args:
        derived: a version of derived cases; reports whose case is of that version bring it
            along, so that who has the same code and catalogue need not derive it again.
    """
    found = place.store.changes_after(seq, limit)
    return {
        "items": [line_of(change, derived) for change in found],
        "next": found[-1].seq if len(found) == limit else None,
        "last": found[-1].seq if found else seq,
        "pool": str(place.store.pool_settings().pool_id),
    }


def lines_seen(place: Workplace, seqs: Sequence[int]) -> list[list[Any]]:
    """Return lines as ``[sequence, kind, ref]``, by which a copy knows its pool's past again.

    A pool that was put back from a backup, and went on from there, has others.
    """
    return [list(line) for line in place.store.lines_at(seqs)]


def line_of(change: Change, derived: str | None = None) -> dict[str, Any]:
    """Return a change as a copy is told of it; see `changes_after`."""
    line: dict[str, Any] = {"sequence": change.seq, "kind": change.kind}
    if change.report_id is not None:
        line["report"] = str(change.report_id)
    if change.kind == "followup":
        line["followup"] = change.ref
    if change.group is not None:
        line["group"] = change.group
        line["vouched"] = change.vouched
    if change.elsewhere:
        line["elsewhere"] = True
    if change.body is not None:
        line["received"] = change.at.strftime("%Y-%m-%dT%H:%M:%SZ")
        line["body"] = json.loads(change.body)
    if change.case_body is not None and change.derived_version == derived:
        line["derived"] = derived
        line["case"] = json.loads(change.case_body)
    if change.fit is not None:
        line["cut"] = change.fit.cut_seq
        line["catalogue"] = catalogue_of(change.fit.catalogue_version)
        line["body"] = json.loads(change.fit.body)
    return line
