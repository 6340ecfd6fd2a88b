"""What the command keeps on disk is read for ever: files of every form there was lie in forms/.

They were made by the code of their day and are never edited. A change of form adds a folder.
Of a form that is newer than this code it says so, and leaves the file as it is.
"""

import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from mendpool_field.before_off import Kept
from mendpool_field.copy_place import CopyPlace
from mendpool_field.disk import FORM, read_object, write_object
from mendpool_field.errors import NewerFile
from mendpool_field.outbox import Outbox
from mendpool_field.past import past_of
from mendpool_field.sessions import Sessions
from mendpool_field.sets import read_sets
from mendpool_field.settings import load_settings

from tests.field.conftest import Run

FORMS = Path(__file__).parent / "forms"
FIRST = FORMS / "form-1"
NEWER = {"form": FORM + 1, "what": "nobody here can know"}


def held(name: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads((FIRST / name).read_bytes())
    return found


@pytest.fixture
def furnished(home: Path) -> Path:
    """A member's folder as the first form has it."""
    shutil.copytree(FIRST, home)
    (home / "copy" / "c1").mkdir()
    (home / "copy" / "c1" / "pool.sqlite3").touch()
    return home


def test_there_is_a_folder_for_each_form() -> None:
    assert sorted(path.name for path in FORMS.iterdir()) == [
        f"form-{number}" for number in range(1, FORM + 1)
    ]


class TestTheFirstForm:
    def test_every_entry_of_the_outbox_and_of_what_was_sent(self, furnished: Path) -> None:
        outbox = Outbox(furnished)
        assert outbox.damaged() == []
        for folder, entries in (("outbox", outbox.entries()), ("sent", outbox.sent())):
            files = sorted((FIRST / folder).glob("*.json"))
            assert len(files) == len(entries) > 2
            for file, entry in zip(files, entries, strict=True):
                told = held(f"{folder}/{file.name}")
                assert {field: getattr(entry, field) for field in told} == told
        states = {(entry.kind, entry.state) for entry in outbox.entries()}
        assert states == {("report", "waiting"), ("report", "parked"), ("followup", "waiting")}
        (parked,) = [entry for entry in outbox.entries() if entry.state == "parked"]
        assert (parked.status, bool(parked.reason)) == (422, True)

    def test_sets_readings_and_notes(self, furnished: Path) -> None:
        assert read_sets(furnished) == held("sets.json")
        assert sorted(read_sets(furnished)) == ["barn", "pump"]
        assert past_of(furnished, "barn") == held("past.json")["barn"] != []
        (record,) = Kept(furnished, "barn").open
        assert record == held("before-off/barn.json")["records"][0]
        assert record["tags"] == ["red to F+", "link 2 to 3"]

    def test_a_session_in_the_middle_of_a_question(self, furnished: Path) -> None:
        session = Sessions(furnished).of("pump")
        assert session is not None
        told = held("sessions/pump.json")
        assert {field: getattr(session, field) for field in told} == told
        assert session.log
        assert session.dialog

    def test_which_pool_and_which_copy(self, furnished: Path) -> None:
        known = load_settings({"MENDPOOL_HOME": str(furnished)})
        assert known.service is not None
        joined = held("joined.json")
        assert known.service.url == joined["url"]
        assert known.service.token == joined["tokens"][joined["url"]]
        state = CopyPlace(furnished).state()
        assert state is not None
        told = held("copy/state.json")
        assert {field: getattr(state, field) for field in told} == told

    @pytest.mark.usefixtures("furnished")
    def test_the_commands_go_on_from_it(self, alone: Run) -> None:
        assert alone("outbox").stdout.count("waiting to be sent") == 2
        assert "red to F+" in alone("before-off", "barn").stdout
        again = alone("ask", "--on", "barn", "--again", "--offline")
        assert "residual voltage" in again.stdout
        assert "no power" in alone("handon", "--on", "barn").stdout
        walked = alone("ask", "--on", "pump", "--steps", "--offline", typed="y\nq\n")
        assert "step" in walked.stderr
        assert "will not start" in " ".join(walked.stderr.split())


class TestANewerForm:
    """Each is refused in words, with exit code 1, and its bytes stay as they are."""

    @pytest.mark.parametrize(
        ("name", "argv"),
        [
            ("sets.json", ("set", "list")),
            ("sets.json", ("set", "add", "new", "--fuel", "diesel")),
            ("past.json", ("judge", "output 231 V", "--on", "barn", "--offline")),
            ("joined.json", ("sync",)),
            ("before-off/barn.json", ("before-off", "barn")),
            ("before-off/barn.json", ("before-off", "barn", "regulator")),
            ("sessions/pump.json", ("ask", "--on", "pump", "--steps")),
            ("answers/barn.json", ("report", "--on", "barn")),
            ("asked/barn.json", ("ask", "--on", "barn", "--again")),
        ],
    )
    def test_it_says_so_and_leaves_it(
        self, furnished: Path, alone: Run, name: str, argv: tuple[str, ...]
    ) -> None:
        (furnished / name).write_text(json.dumps(NEWER))
        before = (furnished / name).read_bytes()
        told = alone(*argv, typed="red\n\n")
        assert told.exit_code == 1, told.output
        assert "kept by a newer mendpool. It is left as it is." in " ".join(told.stderr.split())
        assert (furnished / name).read_bytes() == before

    @pytest.mark.parametrize("folder", ["outbox", "sent"])
    def test_an_entry_holds_up_nothing_and_is_told(
        self, furnished: Path, alone: Run, folder: str
    ) -> None:
        file = min((furnished / folder).glob("*.json"))
        file.write_text(json.dumps(json.loads(file.read_bytes()) | NEWER))
        before = file.read_bytes()
        told = alone("outbox")
        assert told.exit_code == 0
        says = " ".join(told.stdout.split())  # wherever the lines were broken
        assert ("a newer mendpool kept it" in says) is (folder == "outbox")
        assert (
            alone("report", "dead", "--fuel", "lpg", "--outcome", "open", "--yes").exit_code
            == 0
        )
        assert file.read_bytes() == before

    def test_a_question_is_answered_though_it_can_not_be_kept(
        self, furnished: Path, alone: Run
    ) -> None:
        (furnished / "asked" / "barn.json").write_text(json.dumps(NEWER))
        told = alone("ask", "no power", "--on", "barn", "--offline")
        assert told.exit_code == 0
        assert "can't be kept" in told.stderr
        assert json.loads((furnished / "asked" / "barn.json").read_bytes()) == NEWER

    def test_a_copy_is_passed_over_for_it_is_nobodys_only_one(self, furnished: Path) -> None:
        state = furnished / "copy" / "state.json"
        state.write_text(json.dumps(json.loads(state.read_bytes()) | {"format": 2}))
        assert CopyPlace(furnished).state() is None

    def test_nothing_is_ever_written_over_it(self, tmp_path: Path) -> None:
        path = tmp_path / "x.json"
        path.write_text(json.dumps(NEWER))
        with pytest.raises(NewerFile):
            write_object(path, {})
        path.write_text("{")
        write_object(path, {"form": {"fuel": "diesel"}})  # a set called so
        assert read_object(path) == {"form": {"fuel": "diesel"}}
