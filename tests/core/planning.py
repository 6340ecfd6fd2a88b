"""What the tests of plans ask with."""

from typing import Any

from mendpool.core.diagnosis.plan import Plan

from tests.core.asking import facts_of, planned
from tests.engines import packaged_engine

ENGINE = packaged_engine()
CHECKS = ENGINE.catalogue.checks
WALK_ROUND = "walk-round"
ANSWERED = {WALK_ROUND: "all-right"}
SYMPTOMS = (
    "no-output", "low-voltage", "trips-rcd", "no-crank", "cranks-no-start", "overheats",
    "stops-running", "hunting", "no-transfer", "oil-leak",
)  # fmt: skip


def plan(**facts: Any) -> Plan:
    return planned(ENGINE, facts_of(**facts))


def checks_of(made: Plan) -> list[str]:
    return [step.check for step in made.steps if step.check is not None]


def fixes_of(made: Plan) -> list[tuple[str | None, str | None]]:
    return [(step.component, step.action) for step in made.steps if step.do == "fix"]
