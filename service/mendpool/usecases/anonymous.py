"""How well the people of a pool hide: as it lies, coarsened, and as a parcel leaves."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from mendpool.core.privacy.anonymity import Anonymity, Row, measure
from mendpool.core.privacy.coarse import class_of, coarse_report
from mendpool.store.pool_store import PoolStore
from mendpool.usecases.bulk_out import given_out, stored_reports
from mendpool.usecases.parcels_out import PEOPLE_LEAST

SECRETS_LEAST = 2
"""A class in which every report says the same tells it of everyone in it."""
_KNOWN = (
    "make", "model", "fuel", "rated_kva", "rated_kw", "phases", "cooling", "hours",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Hidden:
    """The measures of a pool.

    Args:
        held: reports as members see them, by make, model, size, hours, region and month.
        coarse: the same reports coarsened, by the class of the set and the year.
        leaving: of these, those that a parcel takes along.
    """

    held: Anonymity
    coarse: Anonymity
    leaving: Anonymity


def hidden_in(store: PoolStore) -> Hidden:
    """Measure a pool's own and foreign reports."""
    return measured(_all(store))


def measured(reports: Iterable[tuple[str, Mapping[str, Any]]]) -> Hidden:
    """Measure reports, each with who sent it."""
    held, coarse = [], []
    people: dict[str, set[str]] = defaultdict(set)
    for who, body in reports:
        secret = f"{body.get('outcome')}|{body.get('cause') or body.get('causes')}"
        held.append(Row(_seen_by_a_neighbour(body), who, secret))
        made = class_of(coarse_report(body))
        coarse.append(Row(made, who, secret))
        people[made].add(who)
    leaving = [row for row in coarse if len(people[row.seen]) >= PEOPLE_LEAST]
    sets = (measure(rows, k=PEOPLE_LEAST, l=SECRETS_LEAST) for rows in (held, coarse, leaving))
    return Hidden(*sets)


def _seen_by_a_neighbour(body: Mapping[str, Any]) -> str:
    machine = body.get("machine") or {}
    known = [machine.get(field) for field in _KNOWN]
    return "|".join(str(part) for part in (*known, body.get("region"), body.get("happened")))


def _all(store: PoolStore) -> Iterable[tuple[str, Mapping[str, Any]]]:
    for report in stored_reports(store):
        yield report.pseudonym, given_out(report)
