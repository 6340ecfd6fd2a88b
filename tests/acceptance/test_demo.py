"""`mendpool demo`, as a stranger would type it."""

import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import httpx
import pytest

pytestmark = pytest.mark.slow
MENDPOOL = str(Path(sys.executable).with_name("mendpool"))


def test_it_walks_the_whole_job_and_ends_by_itself() -> None:
    began = time.monotonic()
    done = subprocess.run(
        [MENDPOOL, "demo"], capture_output=True, text=True, timeout=120, check=False
    )
    assert done.returncode == 0, done.stderr
    assert time.monotonic() - began < 60
    told = " ".join(done.stdout.split())
    in_order = [
        "Every person, place, make, model and repair in these reports is made up",
        "249 reports by 30 members",
        "mendpool ask --on barn",
        "DO THIS NEXT",
        "it runs again",
        "mendpool report --file -",
        "mendpool followup",
        "The new report is number",
        "brushes and holder: worn:",
        "Done in",
    ]
    places = [told.find(words) for words in in_order]
    assert -1 not in places, in_order[places.index(-1)]
    assert places == sorted(places)


def test_with_stay_it_stays_and_tells_its_address_and_a_token() -> None:
    with subprocess.Popen(
        [MENDPOOL, "demo", "--stay"],
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
        env={**os.environ, "PYTHONUNBUFFERED": "1"},
    ) as process:
        _holds_what_it_told(process)


def _holds_what_it_told(process: "subprocess.Popen[str]") -> None:
    assert process.stdout is not None
    told = ""
    try:
        for line in process.stdout:
            told += line
            if line.startswith("Stop it with"):
                break
        url = re.search(r"stays up at (\S+)", told)
        token = re.search(r"A token of the member .*: (\S+)", told)
        assert url
        assert token
        answer = httpx.get(
            f"{url[1]}/v1/reports", headers={"Authorization": f"Bearer {token[1]}"}, timeout=10
        )
        assert answer.status_code == 200
        assert answer.json()["items"]
    finally:
        process.send_signal(signal.SIGINT)
        assert process.wait(30) == 130
