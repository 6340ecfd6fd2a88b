"""What stewards should look at, and what they did about it."""

import json
import threading
from collections.abc import Iterator
from datetime import datetime
from typing import NamedTuple
from uuid import UUID

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.errors import Conflict, NotAllowed, TemporarilyImpossible
from mendpool.core.evidence.case import case_from_text
from mendpool.core.evidence.suspect import Looked, Why, suspects
from mendpool.core.record.steward import REASON_MOST
from mendpool.store.pool_store import PoolStore
from mendpool.store.values import FOREIGN_PSEUDONYM, Member
from mendpool.usecases.follow_up import withdraw
from mendpool.usecases.workplace import Workplace

_PAGE = 500
_WAIT_S = 2.0


class Flagged(NamedTuple):
    """A report to look at: whose (as the operator calls them), when it came, and why."""

    report: UUID
    member: str
    received: datetime
    why: tuple[Why, ...]


NEWEST = 5_000
"""How many reports are looked at unless more are asked for: some seconds, and what is odd about
older ones was told when they were new."""


def flagged(
    store: PoolStore, catalogue: Catalogue, *, everything: bool, newest: int = NEWEST
) -> list[Flagged]:
    """Return the reports to look at, the newest last.

    Args:
        everything: those too that a steward looked at and let stand.
        newest: look at so many, the newest; a copy of an older one is not known for one.
    """
    stand = set() if everything else _let_stand(store)
    names = {m.id: m.name for m in store.list_members()}
    looked: list[Looked] = []
    came: dict[str, tuple[UUID, str, datetime]] = {}
    for report, one in _looked(store, store.before_newest(newest)):
        looked.append(one)
        came[one.case.id] = report[0], names.get(report[1], ""), report[2]
    return [
        Flagged(*came[name], tuple(why))
        for name, why in suspects(looked, catalogue).items()
        if came[name][0] not in stand
    ]


class NoReason(Conflict):
    """A steward gave no reason, or too long a one."""


class Reviewing:
    """The list as a service gives it: made once for all who ask while nothing is filed.

    It reads the newest reports, for some seconds, so two are never made at once.
    """

    def __init__(self) -> None:
        self._turn = threading.Lock()
        self._made: tuple[int, list[Flagged]] | None = None

    def flagged(self, store: PoolStore, catalogue: Catalogue) -> list[Flagged]:
        """Return what `flagged` does, without what a steward let stand.

        Raises:
            TemporarilyImpossible: it is being made for someone else.
        """
        if not self._turn.acquire(timeout=_WAIT_S):
            raise TemporarilyImpossible("The list is being made; ask again in a moment.")
        try:
            newest = store.last_seq()
            if self._made is None or self._made[0] != newest:
                self._made = newest, flagged(store, catalogue, everything=True)
            found = self._made[1]
        finally:
            self._turn.release()
        stand = _let_stand(store)
        return [one for one in found if one.report not in stand]


def _let_stand(store: PoolStore) -> set[UUID]:
    return {j.report_id for j in store.judgements() if j.came == "kept"}


def take_back(
    place: Workplace, steward: Member, report_id: UUID, reason: str, now: datetime
) -> None:
    """Withdraw a report as a steward; who, when, why and which stay in the trail.

    Raises:
        NotAllowed: the member is no steward.
        NotFound: there is no such report.
        NoReason: none, or too long a one.
    """
    withdraw(place, steward, report_id, now, _reason(place, steward, reason))


def let_stand(
    place: Workplace, steward: Member, report_id: UUID, reason: str, now: datetime
) -> None:
    """Note that a steward looked at a report and lets it stand; raises as `take_back`."""
    why = _reason(place, steward, reason)
    place.store.keep_report(report_id, steward.id, why, now)


def _reason(place: Workplace, steward: Member, reason: str) -> str:
    if steward.role != "steward":
        raise NotAllowed
    clean, _ = place.scrub({"note": reason.strip()})
    said = str(clean.get("note", ""))
    if not 1 <= len(said) <= REASON_MOST:
        raise NoReason(f"A reason has 1 to {REASON_MOST} characters.")
    return said


def _looked(
    store: PoolStore, after: int
) -> Iterator[tuple[tuple[UUID, int, datetime], Looked]]:
    while page := store.reports_after(after, _PAGE):
        cases = {held.seq: held for held in store.cases_by_seq([r.seq for r in page])}
        for report in page:
            held = cases.get(report.seq)
            if held is None or report.body is None:
                continue  # taken back while the page was read
            body = json.loads(report.body)
            body["followups"] = [json.loads(f.body) for f in report.followups]
            case = case_from_text(held.case_body, group=held.group, vouched=held.vouched)
            day = report.received.strftime("%Y-%m-%d")
            if report.pseudonym.startswith(FOREIGN_PSEUDONYM):
                day = ""  # a parcel brings many at once
            yield (report.id, report.member_id, report.received), Looked(case, day, body)
        after = page[-1].seq
