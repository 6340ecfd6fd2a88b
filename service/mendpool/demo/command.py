"""The demo's one command: sets the stage, walks the story, cleans up after itself."""

import json
import os
import sys
import tempfile
import time
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any

import httpx
import typer

from mendpool.coop.reports import invented_reports, label
from mendpool.core.catalogue.files import packaged_catalogue
from mendpool.demo import story
from mendpool.demo.loading import database_url_of, load_reports, make_members
from mendpool.demo.running import Running, command, service
from mendpool.main import utc_now

app = typer.Typer(
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    help="See the job done.",
)
ASKER = "stranger"


@app.callback(invoke_without_command=True)
def demo(
    stay: Annotated[
        bool, typer.Option("--stay", help="Keep the service up; print its address and a token.")
    ] = False,
) -> None:
    """Run a real service with an invented co-op and do the whole job as a member of it."""
    started = time.monotonic()
    try:
        with (
            tempfile.TemporaryDirectory(prefix="mendpool-demo-") as folder,
            service(Path(folder)) as running,
        ):
            token = _show(running)
            _say(f"\nDone in {time.monotonic() - started:.0f} s.")
            if stay:
                _stay(running, token)
    except RuntimeError as error:
        typer.echo(f"The demo stopped: {error}", err=True)
        raise typer.Exit(1) from error
    except KeyboardInterrupt:
        raise typer.Exit(130) from None


def _show(running: Running) -> str:
    _heading("An invented co-op")
    _say(label())
    reports = invented_reports()
    names = sorted({report.who for report in reports})
    tokens = make_members(database_url_of(running.environment), [*names, ASKER])
    followups = load_reports(running.url, tokens, reports, _progress(len(reports)))
    _say(
        f"{len(reports)} reports by {len(names)} members with {followups} follow-ups, "
        f"over HTTP, at {running.url}."
    )
    environment = {**running.environment, "MENDPOOL_TOKEN": tokens[ASKER]}
    headers = {"Authorization": f"Bearer {tokens[ASKER]}"}
    with httpx.Client(base_url=running.url, headers=headers, timeout=30) as client:
        _job(client, environment)
    return tokens[ASKER]


def _job(client: httpx.Client, environment: Mapping[str, str]) -> None:
    catalogue = packaged_catalogue()
    _heading("A set is down: the member asks")
    _type(environment, *_set_words())
    asked = ["ask", "--on", "barn", story.COMPLAINT, "--before", "stood-long"]
    for reading in story.READINGS:
        asked += ["--reading", reading]
    _type(environment, *asked)
    walk = story.Walk()
    before = _ask(client, walk)
    _heading("The member does what it says")
    for line in story.walk_the_plan(client, catalogue, walk, before):
        _say(line)
    if not walk.running:
        raise RuntimeError("the plan gave up before the set ran")
    _say(f"Running again after about {walk.minutes:.0f} minutes of work by the figures.")
    _heading("The member files the report, every attempt in it")
    body = json.dumps(story.report(walk, utc_now().strftime("%Y-%m")))
    filed = json.loads(
        _type(environment, "report", "--file", "-", "--yes", "--json", told=body, quiet=True)
    )
    report_id = _id_of(filed)
    _type(environment, "show", report_id)
    _heading("Later: did it hold?")
    month = utc_now().strftime("%Y-%m")
    held = ["--state", "holding", "--month", month, "--hours-run", "12"]
    _type(environment, "followup", report_id, *held)
    _heading("The same question again: what changed")
    _changes(before, _ask(client, story.Walk()), report_id)


def _set_words() -> list[str]:
    plate = story.PLATE
    return [
        "set", "add", "barn", "--make", str(plate["make"]), "--model", str(plate["model"]),
        "--fuel", "diesel", "--cooling", "liquid", "--phases", "1", "--starting", "electric",
        "--duty", "standby", "--kva", "6.5", "--volts", "240", "--hz", "60", "--rpm", "1800",
    ]  # fmt: skip


def _changes(before: Mapping[str, Any], after: Mapping[str, Any], report_id: str) -> None:
    component = story.TRUTH.split("/")[0]
    _say(
        f"Similar reports: {before['evidence']['similar']} before, "
        f"{after['evidence']['similar']} now, by {after['evidence']['contributors']} people."
    )
    place = [s["report"] for s in after["similar"]].index(report_id) + 1
    _say(f"The new report is number {place} of those most like the question.")
    for name, answer in (("before", before), ("now", after)):
        cause = next(c for c in answer["causes"] if c.get("component") == component)
        fix = next(f for f in answer["fixes"] if f["component"] == component)
        likely = f"{cause['probability'] * 100:.0f} % likely"
        _say(f"{name:6}  {cause['says']}: {likely}. {fix['says']}")


def _ask(client: httpx.Client, walk: story.Walk) -> dict[str, Any]:
    reply = client.post("/v1/ask", json=story.question(walk))
    reply.raise_for_status()
    answer: dict[str, Any] = reply.json()
    return answer


def _id_of(filed: Mapping[str, Any]) -> str:
    found = filed.get("id") or filed.get("report_id") or filed.get("report", {}).get("id")
    if found is None:
        raise RuntimeError("the report was not sent")
    return str(found)


def _type(
    environment: Mapping[str, str], *words: str, told: str = "", quiet: bool = False
) -> str:
    """Run a command as it would be typed, showing both."""
    shown = " ".join(f'"{word}"' if " " in word else word for word in words)
    _say(f"\n$ mendpool {shown}")
    done = command(*words, environment=environment, told=told)
    if not quiet:
        _say((done.stdout + done.stderr).strip())
    return done.stdout


def _stay(running: Running, token: str) -> None:
    _say(f"\nThe service stays up at {running.url} (its pages: {running.url}/docs).")
    _say(f"A token of the member {ASKER!r}: {token}")
    _say("Stop it with Ctrl-C; everything it holds goes with it.")
    sys.stdout.flush()
    while True:
        time.sleep(3600)


def _progress(total: int) -> Any:  # noqa: ANN401 - a plain callback
    """Count on one line at a terminal; say nothing when piped."""

    def shown(number: int) -> None:
        if sys.stderr.isatty() and os.environ.get("TERM") != "dumb":
            end = "\n" if number == total else ""
            print(f"\rloading {number} of {total}", end=end, file=sys.stderr, flush=True)

    return shown


def _heading(text: str) -> None:
    _say(f"\n== {text}")


def _say(text: str) -> None:
    typer.echo(text)
    sys.stdout.flush()
