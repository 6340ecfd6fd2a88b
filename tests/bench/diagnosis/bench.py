"""The bench of the diagnosis: a world whose truth is known, ours beside what people do now.

Run: ``python -m tests.bench.diagnosis.bench --reports 0 30 300 3000 --questions 150``. Prints;
judges nothing. `TUNING` is the seed to work with; `HELD_OUT` is for the closing note only.

Read it with care. The simulator draws from the catalogue's own tables, moved by the seed, so
only differences between sides inform. "The world's own numbers" is a mind that knows every
frequency and hears each complaint rightly: the ceiling, for how hard the questions are.
How often faults are given away, and how much is measured, was set by that ceiling, and
changed twice after our own results had been seen: once easier (more is given away), once
harder (askers mostly use the wordings that reports use least; it cost ours 0.13 first).
"""

import argparse
import sys
from collections.abc import Sequence

from mendpool.core.catalogue.files import packaged_catalogue
from mendpool.core.diagnosis.engine import Engine

from tests.bench.diagnosis.coverage import coverage, true_rates
from tests.bench.diagnosis.judged import FAR, OURS, Table, judge_all
from tests.bench.diagnosis.sides import Held
from tests.bench.diagnosis.simulator.pool import Drawn, Simulator
from tests.bench.diagnosis.simulator.world import HELD_OUT, TUNING
from tests.bench.diagnosis.small import over_the_optimum
from tests.bench.measures import bootstrap, brier, log_loss, murphy_split, reliability

_SMALL = 40


def main(arguments: Sequence[str] | None = None) -> None:
    """Print the tables for each size of pool."""
    asked = _arguments(arguments)
    seed = HELD_OUT if asked.held_out else asked.seed
    simulator = Simulator(Engine(packaged_catalogue()), seed)
    questions = simulator.questions(asked.questions)
    reports = simulator.reports(max(asked.reports))
    rates = true_rates(simulator, asked.repairs)
    version = simulator.engine.catalogue.version
    print(f"seed {seed}, {len(questions)} questions, catalogue {version}")
    for size in asked.reports:
        held = Held(simulator.engine, reports[:size])
        table = judge_all(simulator, held, questions, not asked.no_plans, _tick)
        print(f"\n=== {size} reports ===")
        print_ranks(table, questions)
        print_forecasts(table, questions)
        if size:
            print_coverage(simulator, table, questions, rates)
        if table.trips:
            print_minutes(table)
        print_small(held, questions[:_SMALL])
        print_kinds(table, questions)
        print_worst(table, questions, asked.worst)
        print(f"answer ms p50 {_at(table.times, 0.5):.1f} p99 {_at(table.times, 0.99):.1f}")


def print_ranks(table: Table, questions: Sequence[Drawn]) -> None:
    """Print who names the true cause, and how like the reports are that are shown."""
    listed = [i for i, q in enumerate(questions) if q.key is not None]
    print(f"{'side':30} first          in 3           nDCG@10        log loss")
    for side, ranks in table.ranks.items():
        first = [float(ranks[i] == 1) for i in listed]
        three = [float(ranks[i] <= 3) for i in listed]
        like = [v for v in table.likeness.get(side, ()) if v is not None]
        given = table.truth_given.get(side)
        loss = (
            f"{log_loss([given[i] for i in range(len(given))]):8.2f}" if given else "       -"
        )
        print(f"{side:30} {_mean(first)} {_mean(three)} {_mean(like)} {loss}")
    parts = [_part_ranks(table, i, questions[i].key or "") for i in listed]
    one, three_ = (sum(p <= n for p in parts) / len(parts) for n in (1, 3))
    print(f"ours by part alone: first {one:.2f}, in three {three_:.2f}")


def _part_ranks(table: Table, question: int, truth: str) -> int:
    parts = list(dict.fromkeys(c.split("/", 1)[0] for c in table.said[question].causes))
    wanted = truth.split("/", 1)[0]
    return parts.index(wanted) + 1 if wanted in parts else FAR


def print_forecasts(table: Table, questions: Sequence[Drawn]) -> None:
    """Print Brier's score with Murphy's split, and said beside seen with what chance does."""
    rows = [[p for cause, p in said.given.items() if cause] for said in table.said]
    truths = [
        causes.index(q.key) if q.key in (causes := [c for c in s.given if c]) else None
        for s, q in zip(table.said, questions, strict=True)
    ]
    flat = [(p, float(place == t)) for row, t in zip(rows, truths, strict=True)
            for place, p in enumerate(row)]  # fmt: skip
    table_of = reliability(rows, truths)
    bins = table_of.bins
    split = murphy_split(
        [b.forecast for b in bins], [b.observed for b in bins], [b.count for b in bins]
    )
    score = brier([o for _, o in flat], [p for p, _ in flat])
    print(
        f"Brier {score:.4f} = reliability {split.reliability:.4f} - resolution "
        f"{split.resolution:.4f} + uncertainty {split.uncertainty:.4f} (+ spread within bins)"
    )
    print_reliability("every cause shown", table_of.bins, table_of.gap, table_of.null)
    tops = [[max(row, default=0.0)] for row in rows]
    right = [
        0 if t is not None and row[t] == max(row) else None
        for row, t in zip(rows, truths, strict=True)
    ]
    top = reliability(tops, right, bins=5)
    print_reliability("the first cause", top.bins, top.gap, top.null)


def print_reliability(name: str, bins: Sequence[object], gap: float, null: float) -> None:
    """Print said, seen and the band that a true forecaster stays in 95 times in 100."""
    inside = "inside" if gap <= null else "OUTSIDE"
    print(f"reliability of {name}: gap {gap:.4f}, null {null:.4f}, {inside}")
    for count, said, seen, low, high in bins:  # type: ignore[misc]
        mark = "" if low <= seen <= high else "  <-"
        null_of = f"null {low:.3f}-{high:.3f}{mark}"
        print(f"   n {count:5d}  said {said:.3f}  seen {seen:.3f}  {null_of}")


def print_coverage(
    simulator: Simulator, table: Table, questions: Sequence[Drawn], rates: dict[object, float]
) -> None:
    """Print how many of the 90 % ranges hold the truth."""
    print("90 % ranges of fixes          ranges  hold it as tried  as first step  mean width")
    for row in coverage(simulator, questions, table.shown, rates):  # type: ignore[arg-type]
        print(
            f"   tried {row.tried:20} {row.ranges:6d} {row.as_tried:17.2f} {row.as_first:14.2f}"
            f" {row.width:11.2f}"
        )


def print_minutes(table: Table) -> None:
    """Print minutes to running of each side, and as a ratio to ours, question by question."""
    ours = [t.minutes for t in table.trips[OURS]]
    print(f"{'minutes to running':28} mean            median  running  steps  ours / this")
    for side, trips in table.trips.items():
        minutes = [t.minutes for t in trips]
        low, high = bootstrap(minutes)
        pairs = list(range(len(minutes)))
        ratio = sum(ours) / sum(minutes)
        down, up = bootstrap(
            [float(i) for i in pairs],
            of=lambda s, m=minutes: sum(ours[int(i)] for i in s) / sum(m[int(i)] for i in s),
        )
        running = sum(t.running for t in trips) / len(trips)
        steps = sum(t.steps for t in trips) / len(trips)
        print(
            f"{side:28} {sum(minutes) / len(minutes):5.0f} {low:4.0f}-{high:4.0f} "
            f"{_at(minutes, 0.5):7.0f} {running:8.2f} {steps:6.1f}  "
            f"{ratio:.2f} {down:.2f}-{up:.2f}"
        )


def print_small(held: Held, questions: Sequence[Drawn]) -> None:
    """Print what is lost to the exact optimum on boards cut down to what it can do."""
    told = over_the_optimum(held, questions)
    said = "; ".join(f"{s} {m:.3f} / {p:.3f} / {x:.3f}" for s, (m, p, x) in told.items())
    print(f"times the exact optimum on {len(questions)} cut boards, mean / 95th / most: {said}")


def print_kinds(table: Table, questions: Sequence[Drawn]) -> None:
    """Print which kinds of question go wrong."""
    kinds: dict[str, list[int]] = {}
    for i, drawn in enumerate(questions):
        if drawn.key is None:
            continue
        heard = "symptom understood" if table.understood[i] else "symptom missed"
        for tag in (
            *drawn.tags,
            heard,
            f"fuel {drawn.machine.fuel}",
            f"s: {drawn.fault.symptom}",
        ):
            kinds.setdefault(tag, []).append(i)
    print("kind of question                n  first  in 3  minutes")
    for tag, members in sorted(
        kinds.items(), key=lambda k: (k[0].startswith("s:"), -len(k[1]), k[0])
    ):
        if len(members) < (5 if tag.startswith("s:") else 1):
            continue
        ranks = [table.ranks[OURS][i] for i in members]
        first, three = (sum(r <= n for r in ranks) / len(ranks) for n in (1, 3))
        trips = table.trips.get(OURS)
        minutes = (
            f"{sum(trips[i].minutes for i in members) / len(members):8.0f}" if trips else ""
        )
        print(f"   {tag:27} {len(members):4d} {first:6.2f} {three:5.2f} {minutes}")


def print_worst(table: Table, questions: Sequence[Drawn], count: int) -> None:
    """Print the questions that were sure and wrong: what a mechanic never forgives."""
    wrong = [i for i, q in enumerate(questions) if table.ranks[OURS][i] > 1]
    wrong.sort(key=lambda i: -max(table.said[i].given.values()))
    for i in wrong[:count]:
        drawn, said = questions[i], table.said[i]
        best = ", ".join(f"{c or 'else'} {p:.2f}" for c, p in list(said.given.items())[:3])
        truth = f"{drawn.key} ({drawn.fault.symptom}) given {said.of(drawn.key):.3f}"
        print(f"   truth {truth}; said {best}")
        print(f"      {drawn.asked.words} | {drawn.looked}")


def _mean(values: Sequence[float]) -> str:
    if not values:
        return f"{'-':>14}"
    low, high = bootstrap(values)
    return f"{sum(values) / len(values):.2f} {low:.2f}-{high:.2f}"


def _at(values: Sequence[float], share: float) -> float:
    return sorted(values)[int(share * (len(values) - 1))] if values else float("nan")


def _tick(number: int) -> None:
    if number % 25 == 0:
        print(".", end="", flush=True, file=sys.stderr)


def _arguments(arguments: Sequence[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--reports", type=int, nargs="+", default=[0, 30, 300, 3000])
    parser.add_argument("--questions", type=int, default=150)
    parser.add_argument("--seed", type=int, default=TUNING)
    parser.add_argument("--held-out", action="store_true", help="the seed nobody tunes on")
    parser.add_argument("--no-plans", action="store_true", help="leave out minutes to running")
    parser.add_argument("--repairs", type=int, default=20_000, help="for true rates of fixes")
    parser.add_argument("--worst", type=int, default=8, help="sure and wrong questions shown")
    return parser.parse_args(arguments)


if __name__ == "__main__":
    main()
