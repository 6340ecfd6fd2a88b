"""The plan's speed: one choice at 30 x 20 x 40, and whole plans over the catalogue.

Run: ``python -m tests.bench.plan_speed``. Beside each stands a floor measured in the same run:
the one product and the one sort that a choice can't do without, on arrays of the same size.
The ratio is what carries over. Prints; judges nothing.
"""

import gc
import time
from collections.abc import Callable

import numpy as np

from mendpool.core.catalogue.files import packaged_catalogue
from mendpool.core.diagnosis.beliefs import believe
from mendpool.core.diagnosis.board import lay_out
from mendpool.core.diagnosis.cures import chances
from mendpool.core.diagnosis.decide import Options, choose
from mendpool.core.diagnosis.engine import Engine
from mendpool.core.diagnosis.facts import Facts
from mendpool.core.diagnosis.hands import Hands
from mendpool.core.diagnosis.plan import make_plan
from mendpool.core.record.machine import Machine

FAULTS, TESTS, REPAIRS = 30, 20, 40
_TIMES = 60
_SYMPTOMS = ("no-output", "cranks-no-start", "drops-under-load", "overheats", "hunting")


def main() -> None:
    """Print medians and the fastest, in milliseconds, and their ratio to the floor."""
    belief, options = instance()
    rows = 1 + REPAIRS + sum(len(table) for table in options.tests)
    floor = timed(floor_of(rows, FAULTS, REPAIRS))
    told("floor 30 x 20 x 40", floor, floor)
    told(
        "choose 30 x 20 x 40",
        timed(lambda: choose(belief, options, range(REPAIRS), range(TESTS))),
        floor,
    )
    engine = Engine(packaged_catalogue())
    gc.freeze()
    machine = Machine(fuel="diesel", excitation="brushed-avr", starting="electric", phases=1)
    for symptom in _SYMPTOMS:
        facts = Facts(machine=machine, symptoms={symptom: 1.0})
        beliefs = believe(facts, engine.knowledge, engine.result_rates, engine.word_rates, [])
        cures = chances(beliefs, engine.knowledge, [])

        def laid() -> object:
            return lay_out(facts, beliefs, engine.knowledge, cures, {}, Hands())  # noqa: B023

        def planned() -> object:
            return make_plan(facts, beliefs, engine.knowledge, cures, {})  # noqa: B023

        board = lay_out(facts, beliefs, engine.knowledge, cures, {}, Hands())
        repairs, tests = range(len(board.fixes)), range(len(board.checks))
        rows = 1 + len(repairs) + sum(len(table) for table in board.options.tests)
        floor = timed(floor_of(rows, len(board.belief), len(repairs)))
        told(f"{symptom}: floor", floor, floor)
        told(
            f"{symptom}: one choice",
            timed(lambda: choose(board.belief, board.options, repairs, tests)),  # noqa: B023
            floor,
        )
        told(f"{symptom}: board", timed(laid), floor)
        told(f"{symptom}: plan", timed(planned), floor)


def instance() -> tuple[np.ndarray, Options]:
    """Return a drawn instance of the size the goal names."""
    rng = np.random.default_rng(4)
    cures = np.zeros((REPAIRS, FAULTS))
    for repair in range(REPAIRS):
        cures[repair, repair % FAULTS] = rng.uniform(0.6, 1.0)
    tests = [rng.gamma(0.4, 1, (2 + t % 2, FAULTS)) + 0.03 for t in range(TESTS)]
    tables = [table / table.sum(axis=0) for table in tests]
    costs, minutes = rng.uniform(5, 120, REPAIRS), rng.uniform(2, 20, TESTS).tolist()
    return rng.dirichlet(np.ones(FAULTS)), Options(cures, costs, tables, minutes, 300.0)


def floor_of(rows: int, faults: int, repairs: int) -> Callable[[], object]:
    """Return the least a choice must do: every belief times every repair, in order."""
    rng = np.random.default_rng(5)
    beliefs, cures = rng.random((rows, faults)), rng.random((repairs, faults))
    return lambda: (beliefs @ cures.T).argsort(axis=1, kind="stable")


def timed(do: Callable[[], object]) -> tuple[float, float]:
    """Return median and fastest of many, in milliseconds."""
    times = []
    for _ in range(_TIMES):
        started = time.perf_counter()
        do()
        times.append((time.perf_counter() - started) * 1000)
    return sorted(times)[_TIMES // 2], min(times)


def told(name: str, took: tuple[float, float], floor: tuple[float, float]) -> None:
    """Print one line."""
    median, best = took
    print(f"{name:28} {median:7.3f} ms  best {best:7.3f}   {best / floor[1]:6.1f} x floor")


if __name__ == "__main__":
    main()
