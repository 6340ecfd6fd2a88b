"""How well people hide among each other in a table: k, l and the risk of being known.

Sources: k-anonymity, L. Sweeney, Int. J. Uncertainty, Fuzziness and Knowledge-Based Systems
10(5), 2002; distinct l-diversity, A. Machanavajjhala et al., ACM Trans. Knowledge Discovery
from Data 1(1), 2007; the average risk of a record, the mean of one over the size of its class
(common practice in de-identified sharing).
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from typing import NamedTuple


class Row(NamedTuple):
    """One record: what an outsider could know, who it is of, and what he should not learn."""

    seen: str
    person: str
    secret: str


@dataclass(frozen=True, slots=True)
class Anonymity:
    """What was measured. Shares and risks are 0 to 1; all 0 for no record.

    Args:
        records, classes: how many; a class is what looks alike to an outsider.
        k: people in the smallest class.
        l: different secrets in the class with fewest.
        unique_share: share of records whose class is of one person.
        under_k, under_l: classes of fewer people, or of fewer secrets, than asked for.
        average_risk: mean over the records of one over the people in its class.
    """

    records: int
    classes: int
    k: int
    l: int  # noqa: E741 - its name everywhere
    unique_share: float
    under_k: int
    under_l: int
    average_risk: float


def measure(rows: Iterable[Row], *, k: int, l: int) -> Anonymity:  # noqa: E741 - its name
    """Measure a table.

    Args:
        rows: its records, in any order.
        k: people asked for in a class.
        l: different secrets asked for in a class.
    """
    records: dict[str, int] = defaultdict(int)
    people: dict[str, set[str]] = defaultdict(set)
    secrets: dict[str, set[str]] = defaultdict(set)
    for row in rows:
        records[row.seen] += 1
        people[row.seen].add(row.person)
        secrets[row.seen].add(row.secret)
    count = sum(records.values())
    if not count:
        return Anonymity(0, 0, 0, 0, 0.0, 0, 0, 0.0)
    size = {seen: len(who) for seen, who in people.items()}
    variety = [len(what) for what in secrets.values()]
    return Anonymity(
        records=count,
        classes=len(size),
        k=min(size.values()),
        l=min(variety),
        unique_share=sum(n for seen, n in records.items() if size[seen] == 1) / count,
        under_k=sum(people_in < k for people_in in size.values()),
        under_l=sum(kinds < l for kinds in variety),
        average_risk=sum(n / size[seen] for seen, n in records.items()) / count,
    )
