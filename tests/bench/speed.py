"""An answer over HTTP with the invented co-op, beside a route that returns a constant.

Run: ``python -m tests.bench.speed``. The two take turns on one connection, so that a slow
machine is slow for both; the ratio is what carries over. Then where an answer's milliseconds
go in process, at the numbers of simulator's reports given by ``--reports`` (see `stages`; none
leaves it out; 30,000 take minutes to draw). Prints; judges nothing.
"""

import argparse
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

import httpx

from mendpool.coop.reports import invented_reports
from mendpool.demo.loading import database_url_of, load_reports, make_members
from mendpool.demo.running import service

from tests.bench.stages import print_stages

_QUESTIONS = 300


def main(arguments: Sequence[str] | None = None) -> None:
    """Print p50 and p99 of both, and the ratio; then the stages of an answer."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--reports", type=int, nargs="*", default=[3000, 30_000])
    asked = parser.parse_args(arguments)
    over_http()
    if asked.reports:
        print_stages(asked.reports)


def over_http() -> None:
    """Print p50 and p99 of an answer and of the constant route, and the ratio."""
    reports = invented_reports()
    with tempfile.TemporaryDirectory() as folder, service(Path(folder)) as running:
        names = sorted({report.who for report in reports})
        tokens = make_members(database_url_of(running.environment), names)
        started = time.perf_counter()
        load_reports(running.url, tokens, reports, lambda _: None)
        loaded = time.perf_counter() - started
        questions = [_question(r.body) for r in reports if r.body["outcome"] != "well"]
        headers = {"Authorization": f"Bearer {tokens[names[0]]}"}
        answers, constants = [], []
        with httpx.Client(base_url=running.url, headers=headers) as client:
            for number in range(_QUESTIONS):
                answers.append(
                    _timed(client, "POST", "/v1/ask", questions[number % len(questions)])
                )
                constants.append(_timed(client, "GET", "/healthz", None))
    print(f"loaded {len(reports)} reports over HTTP in {loaded:.1f} s")
    for name, times in (("answer", answers), ("constant route", constants)):
        print(f"{name:15} p50 {_at(times, 0.5):6.2f} ms   p99 {_at(times, 0.99):6.2f} ms")
    print(f"ratio at p50    {_at(answers, 0.5) / _at(constants, 0.5):6.1f}")


def _question(body: dict[str, object]) -> dict[str, object]:
    kept = ("machine", "complaint", "symptoms", "readings", "before")
    return {key: body[key] for key in kept if key in body}


def _timed(client: httpx.Client, method: str, path: str, body: object) -> float:
    started = time.perf_counter()
    client.request(method, path, json=body).raise_for_status()
    return (time.perf_counter() - started) * 1000


def _at(times: list[float], share: float) -> float:
    return sorted(times)[min(len(times) - 1, int(share * len(times)))]


if __name__ == "__main__":
    main()
