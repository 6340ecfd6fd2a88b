"""What every use case works with: the store, what was learned, the catalogue, the secret."""

import hmac
import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from pydantic_core import from_json

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.evidence.case import months_later
from mendpool.store.values import FOREIGN_PSEUDONYM, Member, StoredFollowup, StoredReport
from mendpool.usecases.learned import Learned
from mendpool.usecases.tallied import Tallied

if TYPE_CHECKING:
    # Nothing here makes a store: the command must not load a database for each answer.
    from mendpool.store.pool_store import PoolStore

Body = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Workplace:
    """One process's hold on a pool.

    Args:
        store: remembers.
        learned: the index and the fit, following the feed.
        catalogue: the trade's knowledge.
        key: the pool's secret.
        scrub: takes out of a report's free text what names anyone; gives the rest and what
            was removed, by kind.
        tallied: the counts over all reports.
    """

    store: "PoolStore"
    learned: Learned
    catalogue: Catalogue
    key: bytes
    scrub: Callable[[dict[str, Any]], tuple[dict[str, Any], dict[str, int]]]
    tallied: Tallied = field(default_factory=Tallied)


def sameness(place: Workplace, body: Body) -> str:
    """Return the keyed hash by which the same body is known again.

    Of the canonical JSON of the body as received, before anything is added to it; keyed, so
    that a stolen database does not let anyone test what a report said before scrubbing.
    """
    canonical = json.dumps(body, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hmac.digest(place.key, canonical.encode(), "sha256").hex()


GIVEN = "given"
"""Where a stored report keeps its symptoms and readings as they were given, before anything
was found in its words: what it is derived from again when the catalogue has changed."""


def shown(body: str) -> dict[str, Any]:
    """Return a stored report's body without what is kept for deriving it again."""
    found: dict[str, Any] = from_json(body)
    found.pop(GIVEN, None)
    return found


def view(report: StoredReport, viewer: Member | None) -> dict[str, Any]:
    """Return a report as this member may see it; None in a copy, which knows no pseudonyms.

    The contributor's pseudonym is seen by himself and by stewards.
    """
    seen: dict[str, Any] = {"id": str(report.id), "received": _time(report)}
    if viewer is not None and (viewer.role == "steward" or viewer.id == report.member_id):
        seen["contributor"] = report.pseudonym
    seen.update(shown(report.body))
    repaired = seen.get("happened")
    foreign = report.pseudonym.startswith(FOREIGN_PSEUDONYM)
    if foreign:
        # Of another pool: the month was never known here, only the year.
        seen["from_another_pool"] = True
        seen["happened"] = repaired[:4] if repaired else None
    told = ((f, from_json(f.body)) for f in report.followups)
    seen["followups"] = [
        {"id": str(f.id), **(_about(body, repaired) if foreign and _came(f) else body)}
        for f, body in told
    ]
    return seen


def _came(followup: StoredFollowup) -> bool:
    return followup.pseudonym.startswith(FOREIGN_PSEUDONYM)


def _about(body: dict[str, Any], repaired: str | None) -> dict[str, Any]:
    """Return a follow-up that came with a parcel: about how many months after the repair."""
    if repaired is None:
        return {"state": body["state"]}
    seen = months_later(repaired, body["happened"], body["state"])
    return {"state": seen.state, "months_after": seen.months}


def _time(report: StoredReport) -> str:
    return report.received.strftime("%Y-%m-%dT%H:%M:%SZ")
