"""How well the invented co-op and a simulated pool hide, before and after coarsening."""

import pytest

from mendpool.coop.reports import invented_reports
from mendpool.core.diagnosis.engine import Engine
from mendpool.usecases.anonymous import Hidden, measured

from tests.bench.diagnosis.simulator.pool import Simulator


def coarsening_helps_and_nobody_leaves_alone(hidden: Hidden) -> None:
    assert hidden.coarse.average_risk < 0.7 * hidden.held.average_risk
    assert hidden.coarse.unique_share < 0.7 * hidden.held.unique_share
    assert hidden.leaving.records < hidden.coarse.records == hidden.held.records
    assert hidden.leaving.k >= 3
    assert (hidden.leaving.unique_share, hidden.leaving.under_k) == (0.0, 0)
    assert hidden.leaving.average_risk <= 1 / 3


def test_in_the_invented_co_op() -> None:
    hidden = measured((r.who, r.body) for r in invented_reports())
    coarsening_helps_and_nobody_leaves_alone(hidden)
    assert hidden.held.unique_share == 1.0, "by make, hours, place and month all stand alone"
    assert hidden.leaving.records > 124, "and most reports can still be shared"


@pytest.mark.slow
def test_in_a_simulated_pool_of_2000(engine: Engine) -> None:
    bodies = []
    for drawn in Simulator(engine, 7).reports(2000):
        case = drawn.asked.case
        machine = drawn.asked.question.machine.model_dump(mode="json", exclude_none=True)
        body = {
            "machine": machine,
            "happened": case.happened,
            "outcome": case.outcome,
            "causes": list(case.causes),
        }
        bodies.append((str(case.group), body))
    hidden = measured(bodies)
    coarsening_helps_and_nobody_leaves_alone(hidden)
    assert hidden.leaving.records > 1000, "and most reports can still be shared"
