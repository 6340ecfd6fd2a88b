"""What the tests of beliefs ask with."""

from mendpool.core.evidence.case import Case
from mendpool.core.record.report import Attempt

from tests.core.asking import believed, facts_of, probability
from tests.engines import packaged_engine
from tests.factories import make_attempt, make_case

ENGINE = packaged_engine()
OTHER, PRIOR = 0.02, 12
"""The share something else never falls below, and what the catalogue counts for in reports:
decision D5 and section 3 of the methods."""


def p(key: str, cases: list[tuple[Case, float]] | None = None, **facts: object) -> float:
    return probability(ENGINE, believed(ENGINE, facts_of(**facts), cases or []), key)


def tried(component: str, action: str, result: str) -> tuple[Attempt, ...]:
    return (Attempt(component=component, action=action, result=result),)


def reports(number: int, key: str = "slip-rings/contaminated") -> list[tuple[Case, float]]:
    part = key.split("/", 1)[0]
    return [
        (make_case(group=i, causes=(key,), attempts=(make_attempt(part, "clean"),)), 1.0)
        for i in range(number)
    ]
