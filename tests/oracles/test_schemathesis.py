"""An independent fuzzer reads the API's own description and asks the live service.

Schemathesis makes bodies and parameters that fit the description and such that don't, and
holds every answer to it with all of its checks, but for those named here with the reason.
"""

import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from mendpool.core.catalogue.catalogue import Catalogue

from tests.api.pools import Pool, running_pool
from tests.api.real_server import served
from tests.databases import Databases
from tests.factories import make_report

pytestmark = pytest.mark.oracle
EXAMPLES, SECONDS = 15, 120
# What fits the description may be refused all the same: which codes there are is the
# catalogue's, which two fields go together and that an id is a UUIDv7 is said in words.
LEFT_OUT = "positive_data_acceptance"


@pytest.fixture(scope="module")
def running(sqlite_files: Databases, catalogue: Catalogue) -> Iterator[tuple[Pool, str]]:
    with running_pool(sqlite_files, catalogue) as pool, served(pool.app) as url:
        pool.put(make_report())
        yield pool, url


@pytest.mark.timeout(SECONDS + 60)
@pytest.mark.parametrize("mode", ["positive", "negative"])
def test_no_answer_is_outside_the_description(
    running: tuple[Pool, str], mode: str, tmp_path: Path
) -> None:
    pool, url = running
    command = shutil.which("schemathesis", path=str(Path(sys.executable).parent))
    assert command, "install the [oracle] extra"
    done = subprocess.run(
        [
            command, "run", f"{url}/openapi.json", "--url", url, "--mode", mode,
            "--checks", "all", "--exclude-checks", LEFT_OUT, "--phases", "coverage,fuzzing",
            # Its body is lines, of which it makes none; tests/api/test_parcel_routes does.
            "--exclude-name", "POST /v1/parcel",
            # A steward is let in everywhere; what a member is refused is in tests/security. The
            # second is what a browser says of our own page, without which no code is looked at.
            "--header", f"Authorization: Bearer {pool.members['steward'].token}",
            "--header", "Sec-Fetch-Site: same-origin",
            # Of a cookie and its token it could only make wrong ones, and says so by failing.
            "--generation-with-security-parameters", "false",
            "--max-examples", str(EXAMPLES), "--max-time", str(SECONDS // 2),
            "--seed", "20261128", "--no-color", "--continue-on-failure",
        ],
        capture_output=True, text=True, cwd=tmp_path, timeout=SECONDS, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout[-6000:] + done.stderr[-2000:]
    made = re.search(r"(\d+) generated", done.stdout)
    assert made, done.stdout[-2000:]
    assert int(made[1]) > 500
