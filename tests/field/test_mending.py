"""What was refused is mended and goes; what fails for a moment is tried again."""

import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mendpool.core.errors import Complaint, RefusedInput
from mendpool_field.errors import BadUsage, FieldError, ServiceFailed, TooMany, Unreachable
from mendpool_field.flush import Patience, flush
from mendpool_field.mending import found_at, mended, put, with_places
from mendpool_field.outbox import Entry, Outbox

from tests.field.conftest import Run
from tests.field.fake_pool import Call, FakePool, Reply, problem
from tests.field.samples import REPAIR, queued


def refuse(status: int, times: int = 1, **more: object) -> Callable[[Call], Reply | None]:
    """Refuse the first PUTs, then let them through."""
    left = [times]

    def instead(call: Call) -> Reply | None:
        if call.method != "PUT" or not left[0]:
            return None
        left[0] -= 1
        return problem(status, "No", "", **more)

    return instead


class TestPlaces:
    def test_a_place_is_changed_added_or_taken_out(self) -> None:
        body = {"readings": [{"unit": "v", "value": 3}, {"unit": "Hz"}], "note": "x"}
        places = ["/readings/0/unit=V", "/readings/0/value=0.4", "/readings/1=", "/note="]
        assert with_places(body, places) == {"readings": [{"unit": "V", "value": 0.4}]}
        assert body["note"] == "x"

    @pytest.mark.parametrize("place", ["unit=V", "/nowhere/0/unit=V", "/readings/9=", "/note"])
    def test_no_such_place_is_usage(self, place: str) -> None:
        with pytest.raises(BadUsage):
            with_places({"readings": [{}], "note": "x"}, [place])

    @given(
        body=st.dictionaries(st.text(min_size=1, max_size=5), st.integers(), min_size=1),
        data=st.data(),
    )
    def test_what_is_put_is_found(self, body: dict[str, Any], data: st.DataObject) -> None:
        name = data.draw(st.sampled_from(sorted(body)))
        pointer = "/" + name.replace("~", "~0").replace("/", "~1")
        put(body, pointer, "7.5")
        assert found_at(body, pointer) == 7.5

    def test_each_wrong_place_is_asked_for_until_all_are_right(self) -> None:
        asked: list[tuple[str, object]] = []

        def check(body: Any) -> None:
            wrong = [
                Complaint(f"/readings/{i}/unit", "no such unit")
                for i, reading in enumerate(body["readings"])
                if reading["unit"] != "V"
            ]
            if wrong:
                raise RefusedInput(wrong)

        def ask(complaint: Complaint, stands: object) -> str:
            asked.append((complaint.at, stands))
            return "V"

        body = {"readings": [{"unit": "vlt"}, {"unit": "V"}, {"unit": "q"}]}
        assert mended(body, check, ask)["readings"] == [{"unit": "V"}] * 3
        assert asked == [("/readings/0/unit", "vlt"), ("/readings/2/unit", "q")]


class TestFix:
    def test_one_place_is_changed_and_it_goes_under_its_own_id(
        self, joined: Run, pool: FakePool, home: Path
    ) -> None:
        fault = {"at": "/note", "says": "too long"}
        pool.instead = refuse(422, errors=[fault])
        assert joined(*REPAIR, "--note", "long", "--yes").exit_code == 3
        (entry,) = queued(home)
        assert f"mendpool outbox fix {entry['id'][-8:]}" in joined("outbox").stdout
        told = joined("outbox", "fix", entry["id"][-8:], "--set", "/note=short", "--json")
        assert told.exit_code == 0, told.output
        assert json.loads(told.stdout)["state"] == "sent"
        assert pool.reports[entry["id"]]["note"] == "short"
        assert queued(home) == []

    def test_an_id_that_is_taken_gives_way_to_a_new_one_with_what_follows(
        self, joined: Run, pool: FakePool, home: Path
    ) -> None:
        pool.instead = refuse(409, times=2)
        joined(*REPAIR, "--yes")
        (entry,) = queued(home)
        joined("followup", entry["id"], "--state", "holding")
        told = joined("outbox", "fix", entry["id"])
        assert told.exit_code == 0, told.output
        (new_id,) = pool.reports
        assert new_id != entry["id"]
        # The follow-up was refused as well; mended, it goes to where the report went.
        (follow,) = queued(home)
        assert follow["report"] == new_id
        assert joined("outbox", "fix", follow["id"]).exit_code == 0
        assert len(pool.followups) == 1

    def test_without_anybody_to_ask_it_says_how(
        self, joined: Run, pool: FakePool, home: Path
    ) -> None:
        pool.instead = refuse(422)
        joined(*REPAIR, "--yes")
        told = joined("outbox", "fix", queued(home)[0]["id"])
        assert told.exit_code == 2
        assert "--set" in told.stderr
        assert queued(home)[0]["state"] == "parked"

    def test_what_is_still_wrong_stays_set_aside(
        self, joined: Run, pool: FakePool, home: Path
    ) -> None:
        pool.instead = refuse(422)
        joined(*REPAIR, "--yes")
        entry = queued(home)[0]
        told = joined("outbox", "fix", entry["id"], "--set", "/outcome=mendd")
        assert told.exit_code == 2
        assert queued(home)[0] == entry

    def test_a_whole_new_body(
        self, joined: Run, pool: FakePool, home: Path, tmp_path: Path
    ) -> None:
        pool.instead = refuse(413)
        joined(*REPAIR, "--yes")
        file = tmp_path / "new.json"
        file.write_text('{"machine":{"fuel":"petrol"},"complaint":"x","outcome":"open"}')
        assert (
            joined("outbox", "fix", queued(home)[0]["id"], "--with", str(file)).exit_code == 0
        )
        (report,) = pool.reports.values()
        assert report["machine"]["fuel"] == "petrol"


class Slow:
    """A service that fails so often, and a clock that only counts."""

    def __init__(self, *troubles: FieldError) -> None:
        self.troubles = list(troubles)
        self.waited: list[float] = []
        self.patience = Patience(4, 30, self.waited.append, lambda: 0.5)

    def send(self, entry: Entry) -> None:
        del entry
        if self.troubles:
            raise self.troubles.pop(0)


def an_entry(number: int, report: int | None = None) -> Entry:
    name = f"01930000-0000-7000-8000-{number:012d}"
    if report is None:
        return Entry(name, "report", name, "{}")
    return Entry(name, "followup", f"01930000-0000-7000-8000-{report:012d}", "{}")


class TestPatience:
    def test_it_waits_a_little_longer_each_time_and_what_is_asked(self, tmp_path: Path) -> None:
        outbox = Outbox(tmp_path)
        outbox.save(an_entry(1))
        slow = Slow(ServiceFailed(503), TooMany(8), Unreachable("u", "w"))
        done = flush(outbox, slow.send, str, slow.patience)
        assert [entry.id for entry in done.sent] == [an_entry(1).id]
        # Half a second at first, doubled each time, and up to half as much again by chance.
        assert slow.waited == [0.5 * 1.25, 8 * 1.25, 2 * 1.25]

    @pytest.mark.parametrize("trouble", [TooMany(31), ServiceFailed(503, 600)])
    def test_a_service_that_asks_for_long_is_not_waited_for(
        self, tmp_path: Path, trouble: FieldError
    ) -> None:
        outbox = Outbox(tmp_path)
        outbox.save(an_entry(1))
        slow = Slow(trouble)
        done = flush(outbox, slow.send, str, slow.patience)
        assert (done.waiting, slow.waited) == (1, [])

    def test_in_the_end_it_waits_on(self, tmp_path: Path) -> None:
        outbox = Outbox(tmp_path)
        outbox.save(an_entry(1))
        slow = Slow(*[Unreachable("u", "w")] * 9)
        done = flush(outbox, slow.send, str, slow.patience)
        assert (done.waiting, len(slow.waited)) == (1, 3)


class TestClocksAndCopies:
    def test_a_clock_set_back_sends_no_follow_up_before_its_report(
        self, tmp_path: Path
    ) -> None:
        outbox = Outbox(tmp_path)
        for entry in (an_entry(2, report=5), an_entry(5), an_entry(3)):
            outbox.save(entry)
        order = [int(entry.id[-12:]) for entry in outbox.waiting()]
        assert order == [3, 5, 2]

    def test_a_cloned_home_sends_nothing_twice(
        self, cut_off: Run, joined: Run, pool: FakePool, home: Path, tmp_path: Path
    ) -> None:
        for _ in range(3):
            cut_off(*REPAIR, "--yes")
        shutil.copytree(home, tmp_path / "clone")
        assert joined("sync").exit_code == 0
        assert joined("sync", MENDPOOL_HOME=str(tmp_path / "clone")).exit_code == 0
        assert len(pool.reports) == 3
        assert queued(home) == queued(tmp_path / "clone") == []

    def test_a_spoilt_entry_is_told_and_holds_up_nothing(
        self, joined: Run, cut_off: Run, pool: FakePool, home: Path
    ) -> None:
        cut_off(*REPAIR, "--yes")
        spoilt = home / "outbox" / "01930000-0000-7000-8000-000000000009.json"
        spoilt.write_bytes(b'{"id": "0193')
        told = joined("sync")
        assert told.exit_code == 0
        assert len(pool.reports) == 1
        assert "can't be read" in told.stderr
        assert spoilt.exists()
