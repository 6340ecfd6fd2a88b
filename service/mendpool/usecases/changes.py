"""Hand out the change feed, for a member's own copy."""

import json
from typing import Any

from mendpool.store.values import Change
from mendpool.usecases.workplace import Workplace


def changes_after(place: Workplace, seq: int, limit: int) -> dict[str, Any]:
    """Return the changes after a number, in order, and the number to go on from.

    Reports carry `group`, which says only which of them share an author, never who.
    """
    found = place.store.changes_after(seq, limit)
    return {
        "items": [_line(change) for change in found],
        "next": found[-1].seq if len(found) == limit else None,
        "last": found[-1].seq if found else seq,
    }


def _line(change: Change) -> dict[str, Any]:
    line: dict[str, Any] = {"sequence": change.seq, "kind": change.kind}
    if change.report_id is not None:
        line["report"] = str(change.report_id)
    if change.kind == "followup":
        line["followup"] = change.ref
    if change.group is not None:
        line["group"] = change.group
        line["vouched"] = change.vouched
    if change.body is not None:
        line["body"] = json.loads(change.body)
    if change.fit is not None:
        line["cut"] = change.fit.cut_seq
        line["catalogue"] = change.fit.catalogue_version
        line["body"] = json.loads(change.fit.body)
    return line
