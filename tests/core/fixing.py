"""What the tests of fixes ask with."""

from typing import Any

from mendpool.core.evidence.case import Case
from mendpool.core.record.answer import FixShown

from tests.core.asking import facts_of, fixes_of
from tests.engines import packaged_engine

ENGINE = packaged_engine()
BRUSHES = ("brushes", "replace")


def weighed(cases: list[Case], weight: float = 1.0) -> list[tuple[Case, float]]:
    return [(case, weight) for case in cases]


def fixes(cases: list[tuple[Case, float]], **facts: Any) -> dict[tuple[str, str], FixShown]:
    return fixes_of(ENGINE, facts_of(**facts), cases)
