"""A photograph's whole way: the real command, the real service, and back, and gone again."""

import os
import signal
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool_field.cli import app

from tests.api.pools import Pool, rows, running_pool
from tests.api.real_server import served
from tests.databases import Databases
from tests.field.samples import REPAIR, python
from tests.pictures import CANARY, picture, told_all


@dataclass
class Shed:
    """A member with a pool, a folder for the command, and two photographs."""

    pool: Pool
    env: dict[str, str]
    home: Path
    shots: list[str]

    def run(self, *args: str) -> Result:
        return CliRunner().invoke(app, list(args), env=self.env)

    def report(self) -> str:
        """Return the id of the one report there is."""
        (found,) = self.pool.client("birch").get("/v1/reports").json()["items"]
        return str(found["id"])


@pytest.fixture
def shed(databases: Databases, catalogue: Catalogue, tmp_path: Path) -> Iterator[Shed]:
    with running_pool(databases, catalogue) as pool, served(pool.app) as url:
        shots = []
        for number, content in enumerate((told_all(), picture(3))):
            path = tmp_path / f"{number}.jpg"
            path.write_bytes(content)
            shots += ["--photo", str(path)]
        env = {
            "MENDPOOL_URL": url,
            "MENDPOOL_TOKEN": pool.members["alder"].token,
            "MENDPOOL_HOME": str(tmp_path / "home"),
            "MENDPOOL_CACHE_DIR": str(tmp_path / "cache"),
            "COLUMNS": "100",
        }
        yield Shed(pool, env, tmp_path / "home", shots)


def test_sent_shown_saved_withdrawn(shed: Shed, tmp_path: Path) -> None:
    done = shed.run(*REPAIR, *shed.shots, "--yes")
    assert done.exit_code == 0, done.output
    report = shed.report()
    shown = shed.run("show", report, "--photos", str(tmp_path / "album"))
    assert shown.stdout.count("Photograph: 320 × 240 points") == 2
    saved = sorted((tmp_path / "album").iterdir())
    assert len(saved) == 2
    for path in saved:
        link = f"{shed.env['MENDPOOL_URL']}/v1/reports/{report}/photos/{path.stem}"
        assert link in shown.stdout
        assert CANARY not in path.read_bytes()
    assert shed.run("withdraw", report, "--yes").exit_code == 0
    assert rows(shed.pool.store, ["photo"]) == [0]


def test_a_copy_has_none_of_it(shed: Shed) -> None:
    shed.run(*REPAIR, *shed.shots, "--yes")
    report = shed.report()
    (told, _) = shed.pool.client("alder").get(f"/v1/reports/{report}").json()["photos"]
    where = f"/v1/reports/{report}/photos/{told['sha256']}"
    points = shed.pool.client("alder").get(where).content[-200:-2]
    assert shed.run("sync").exit_code == 0
    files = [path.read_bytes() for path in shed.home.rglob("*") if path.is_file()]
    assert any(report.encode() in content for content in files)
    assert not any(points in content for content in files)
    assert shed.run("show", report, "--offline").exit_code == 0


@pytest.mark.parametrize("at", ["before", "after"])
@pytest.mark.parametrize("which", [1, pytest.param(2, marks=pytest.mark.slow)])
def test_killed_in_the_middle_of_sending_nothing_is_lost_or_doubled(
    shed: Shed, at: str, which: int
) -> None:
    script = (
        "import os, signal, sys\n"
        "from mendpool_field import gateway\n"
        "real, seen = gateway.Gateway.send_photo, []\n"
        "def send(self, *given):\n"
        "    seen.append(1)\n"
        f"    die = len(seen) == {which}\n"
        f"    if die and {at!r} == 'before': os.kill(os.getpid(), signal.SIGKILL)\n"
        "    real(self, *given)\n"
        "    if die: os.kill(os.getpid(), signal.SIGKILL)\n"
        "gateway.Gateway.send_photo = send\n"
        "from mendpool_field.cli import main\n"
        f"sys.argv = ['mendpool', *{REPAIR!r}, *{shed.shots!r}, '--yes']\n"
        "main()"
    )
    with pytest.MonkeyPatch.context() as patch:
        for name, value in shed.env.items():
            patch.setitem(os.environ, name, value)
        assert python("-c", script).returncode == -signal.SIGKILL
    assert shed.run("sync", "--send-only").exit_code == 0
    assert rows(shed.pool.store, ["report", "photo"]) == [1, 2]
    assert not list((shed.home / "outbox").iterdir())
