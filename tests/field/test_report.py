"""`mendpool report` and `followup`: shown, kept, then sent."""

import json
from pathlib import Path
from typing import Any

from tests.field.conftest import Run
from tests.field.fake_pool import FakePool, Reply, as_json, problem, sign_in_page
from tests.field.samples import BARN, REPAIR, queued


def stored(pool: FakePool) -> dict[str, Any]:
    (report,) = pool.reports.values()
    return report


class TestReport:
    def test_it_is_shown_then_sent(self, joined: Run, pool: FakePool, home: Path) -> None:
        joined(*BARN)
        told = joined(
            "report",
            "no power",
            "--on",
            "barn",
            "--reading",
            "residual 0.4 V",
            "--tried",
            "avr replace no-change minutes=40 cost=60",
            "--tried",
            "brushes replace fixed failure=worn part='brush block'",
            "--cause",
            "brushes/worn",
            "--outcome",
            "repaired",
            "--month",
            "2026-10",
            "--note",
            "left one down",
            "--defeated",
            "--saw",
            "walk-round=all-right",
            "--before",
            "stood-long",
            "--yes",
        )
        assert told.exit_code == 0, told.output
        report = stored(pool)
        # A version 7 id (RFC 9562): the version digit opens the third group.
        assert report.pop("id")[14] == "7"
        assert report == {
            "machine": {
                "fuel": "diesel",
                "excitation": "not-known",
                "rated_kva": 6.5,
                "rated_volts": 240.0,
                "rated_hz": 60.0,
                "rated_rpm": 1800.0,
            },
            "complaint": "no power",
            "readings": [{"text": "residual 0.4 V"}],
            "observations": [{"check": "walk-round", "found": "all-right"}],
            "attempts": [
                {
                    "component": "avr",
                    "action": "replace",
                    "result": "no-change",
                    "minutes": 40.0,
                    "cost": 60.0,
                },
                {
                    "component": "brushes",
                    "action": "replace",
                    "result": "fixed",
                    "failure": "worn",
                    "part": "brush block",
                },
            ],
            "cause": {"component": "brushes", "failure": "worn"},
            # Said to be repaired, and left without a protection.
            "outcome": "get-by",
            "happened": "2026-10",
            "note": "left one down",
            "before": ["stood-long"],
            "protection_defeated": True,
        }
        assert "THIS WILL BE SENT" in told.stdout
        assert "left one down" in told.stdout
        assert "Stays here: hours (--share hours sends it too)." in told.stderr
        assert queued(home) == []

    def test_what_is_shared_is_sent(self, joined: Run, pool: FakePool) -> None:
        joined(*BARN)
        told = joined(
            "report",
            "no power",
            "--on",
            "barn",
            "--tried",
            "brushes replace fixed cost=18",
            "--region",
            "river flats",
            "--share",
            "cost,hours,region",
            "-y",
        )
        assert told.exit_code == 0, told.output
        assert stored(pool)["attempts"][0]["cost"] == 18.0
        assert stored(pool)["machine"]["hours"] == 1240.0
        assert stored(pool)["region"] == "river flats"

    def test_sharing_a_thing_nobody_knows_is_a_matter_of_usage(self, joined: Run) -> None:
        assert joined(*REPAIR, "--share", "name").exit_code == 2

    def test_the_month_is_this_one_unless_said(self, joined: Run, pool: FakePool) -> None:
        joined(*REPAIR, "--yes")
        assert len(stored(pool)["happened"]) == 7

    def test_a_no_sends_and_keeps_nothing(
        self, joined: Run, pool: FakePool, home: Path
    ) -> None:
        told = joined(*REPAIR, typed="n\n")
        assert told.exit_code == 0
        assert "nothing kept" in told.stderr
        assert pool.reports == {}
        assert queued(home) == []

    def test_enter_is_a_yes(self, joined: Run, pool: FakePool) -> None:
        assert joined(*REPAIR, typed="\n").exit_code == 0
        assert len(pool.reports) == 1

    def test_nobody_there_to_say_yes_sends_nothing(self, joined: Run, pool: FakePool) -> None:
        told = joined(*REPAIR)
        assert told.exit_code == 2
        assert "Add --yes" in told.stderr
        assert pool.reports == {}

    def test_a_last_fix_says_how_it_ended(self, joined: Run, pool: FakePool) -> None:
        joined(*REPAIR, "--yes")
        assert stored(pool)["outcome"] == "repaired"

    def test_a_bypass_never_counts_as_a_repair(self, joined: Run, pool: FakePool) -> None:
        joined("report", "stops", "--fuel", "diesel", "-t", "oil-switch bypass fixed", "--yes")
        assert stored(pool)["outcome"] == "get-by"

    def test_an_end_that_is_not_told_is_asked_for(self, joined: Run) -> None:
        told = joined("report", "no power", "--fuel", "diesel", "--yes")
        assert told.exit_code == 2
        assert "--outcome" in told.stderr

    def test_what_the_pool_takes_out_is_counted(self, joined: Run, pool: FakePool) -> None:
        def preview(call: Any) -> Reply | None:
            if not call.path.endswith("/preview"):
                return None
            return as_json(
                {"report": {**call.json, "note": "ask [name]"}, "removed": {"name": 1}}
            )

        pool.instead = preview
        told = joined(*REPAIR, "--note", "ask Invented", "--yes")
        assert "Taken out before it is stored: name 1." in told.stdout
        assert "Invented" not in told.stdout

    def test_json_is_one_object_with_what_became_of_it(
        self, joined: Run, pool: FakePool
    ) -> None:
        told = joined(*REPAIR, "--yes", "--json")
        result = json.loads(told.stdout)
        assert result["state"] == "sent"
        assert result["id"] in pool.reports
        assert "THIS WILL BE SENT" in told.stderr

    def test_again_reports_the_question_asked(self, joined: Run, pool: FakePool) -> None:
        joined(
            "ask",
            "no power",
            "--fuel",
            "diesel",
            "-t",
            "avr replace no-change",
            "--have",
            "lamp",
        )
        told = joined("report", "--again", "-t", "brushes replace fixed", "--yes")
        assert told.exit_code == 0, told.output
        assert [a["component"] for a in stored(pool)["attempts"]] == ["avr", "brushes"]
        assert "at_hand" not in stored(pool)

    def test_a_file_is_sent_as_it_is(self, joined: Run, pool: FakePool, tmp_path: Path) -> None:
        body = {
            "machine": {"fuel": "petrol", "hours": 9},
            "symptoms": ["no-output"],
            "outcome": "not-repaired",
            "happened": "2026-01",
        }
        file = tmp_path / "r.json"
        file.write_text(json.dumps(body))
        assert joined("report", "--file", str(file), "--yes").exit_code == 0
        report = stored(pool)
        report.pop("id")
        assert report == {**body, "machine": {"fuel": "petrol"}}

    def test_stdin_is_a_file_too(self, joined: Run, pool: FakePool) -> None:
        body = '{"machine":{"fuel":"petrol"},"complaint":"x","outcome":"open"}'
        assert joined("report", "--file", "-", "--yes", typed=body).exit_code == 0
        assert stored(pool)["outcome"] == "open"
        assert joined("report", "--file", "-", typed=body).exit_code == 2

    def test_a_bad_file_is_a_sentence(self, joined: Run, tmp_path: Path) -> None:
        for name, text in (("a", "{"), ("b", "[1]"), ("c", "\x00")):
            (tmp_path / name).write_text(text)
            told = joined("report", "--file", str(tmp_path / name), "--yes")
            assert told.exit_code == 2
            assert "Next:" in told.stderr
        assert joined("report", "--file", str(tmp_path / "none"), "--yes").exit_code == 2

    def test_a_field_nobody_knows_is_never_lost(self, joined: Run, pool: FakePool) -> None:
        body = '{"machine":{"fuel":"petrol"},"complaint":"x","outcome":"open","compliant":"y"}'
        told = joined("report", "--file", "-", "--yes", typed=body)
        assert told.exit_code == 3
        assert "Compliant: no such field" in told.stderr
        assert pool.reports == {}


class TestWithoutSignal:
    def test_it_is_kept_and_sent_later(self, cut_off: Run, joined: Run, pool: FakePool) -> None:
        told = cut_off(*REPAIR, "--yes")
        assert told.exit_code == 0, told.output
        assert "It waits here, safely. mendpool sync sends it." in told.stderr
        later = joined("sync")
        assert later.exit_code == 0
        assert later.stdout.startswith("Sent 1, set aside 0, waiting 0.\n")
        assert stored(pool)["complaint"] == "no power"

    def test_what_names_anyone_is_gone_before_it_is_kept(
        self, cut_off: Run, joined: Run, pool: FakePool, home: Path
    ) -> None:
        told = cut_off(*REPAIR, "--note", "Ring Bob Tolliver on +44 20 7946 0958", "--yes")
        assert told.exit_code == 0, told.output
        assert "name 1, phone 1" in told.stdout.replace("\n", " ")
        kept = "".join(path.read_text() for path in home.rglob("*.json"))
        assert "Tolliver" not in kept
        assert "7946" not in kept
        assert "[name]" in queued(home)[0]["body"]
        joined("sync")
        assert "[phone]" in stored(pool)["note"]

    def test_require_online_ends_with_75_and_still_keeps_it(
        self, cut_off: Run, home: Path
    ) -> None:
        told = cut_off(*REPAIR, "--yes", "--require-online")
        assert told.exit_code == 75
        assert len(queued(home)) == 1
        assert cut_off("sync").exit_code == 0
        assert cut_off("sync", "--require-online").exit_code == 75

    def test_with_no_pool_it_is_kept(self, alone: Run, home: Path) -> None:
        told = alone(*REPAIR, "--yes")
        assert told.exit_code == 0, told.output
        assert "mendpool join URL, then mendpool sync" in told.stderr.replace("\n", " ")
        assert len(queued(home)) == 1

    def test_a_wrong_code_is_caught_here(self, cut_off: Run, home: Path) -> None:
        told = cut_off("report", "no power", "--fuel", "diesle", "--outcome", "open", "--yes")
        assert told.exit_code == 3
        assert "Did you mean diesel?" in told.stderr.replace("\n  ", " ")
        assert queued(home) == []

    def test_a_sign_in_page_is_not_taken_for_a_yes(
        self, joined: Run, pool: FakePool, home: Path
    ) -> None:
        pool.instead = lambda _: sign_in_page()
        assert joined(*REPAIR, "--yes").exit_code == 0
        assert len(queued(home)) == 1
        assert joined("sync").exit_code == 0
        assert len(queued(home)) == 1

    def test_a_stale_token_keeps_everything(
        self, joined: Run, pool: FakePool, home: Path
    ) -> None:
        for _ in range(2):
            told = joined(*REPAIR, "--yes", MENDPOOL_TOKEN="mp_stale")
            assert told.exit_code == 4
        assert [entry["state"] for entry in queued(home)] == ["waiting", "waiting"]
        assert joined("sync", MENDPOOL_TOKEN="mp_stale").exit_code == 4
        assert joined("sync").exit_code == 0
        assert len(pool.reports) == 2

    def test_a_refusal_on_sending_is_set_aside_with_its_reason(
        self, joined: Run, pool: FakePool, home: Path
    ) -> None:
        pool.instead = lambda c: problem(413, "Too large") if c.method == "PUT" else None
        told = joined(*REPAIR, "--yes")
        assert told.exit_code == 3
        (entry,) = queued(home)
        assert entry["state"] == "parked"
        listed = joined("outbox")
        assert "set aside" in listed.stdout
        assert "Too large" in listed.stdout


class TestFollowup:
    def test_a_piece_of_the_id_is_enough(self, joined: Run, pool: FakePool) -> None:
        joined(*REPAIR, "--yes")
        (report_id,) = pool.reports
        told = joined(
            "followup",
            report_id[-6:],
            "--state",
            "holding",
            "--month",
            "2027-02",
            "--hours-run",
            "140",
            "--note",
            "fine",
        )
        assert told.exit_code == 0, told.output
        (followup,) = pool.followups.values()
        followup.pop("id")
        assert followup == {
            "state": "holding",
            "happened": "2027-02",
            "hours_run": 140.0,
            "note": "fine",
        }

    def test_it_waits_behind_its_report(
        self, cut_off: Run, joined: Run, pool: FakePool
    ) -> None:
        saved = json.loads(cut_off(*REPAIR, "--yes", "--json").stdout)
        later = cut_off("followup", saved["id"][:18], "--state", "returned", "--json")
        assert json.loads(later.stdout)["state"] == "waiting"
        assert joined("sync").exit_code == 0
        assert len(pool.reports) == len(pool.followups) == 1

    def test_a_state_nobody_knows_is_usage(self, joined: Run) -> None:
        assert joined("followup", "abcdef", "--state", "perfect").exit_code == 2

    def test_an_id_nobody_knows_is_usage(self, joined: Run) -> None:
        told = joined("followup", "abcdef", "--state", "holding")
        assert told.exit_code == 2
        assert "None of the reports" in told.stderr

    def test_a_month_is_written_one_way(self, joined: Run) -> None:
        told = joined(*REPAIR, "--month", "10/2026", "--yes")
        assert told.exit_code == 3
        assert "Month: write the month as YYYY-MM, such as 2026-10." in told.stderr

    def test_one_that_is_not_ones_own_to_follow_can_be_dropped(
        self, joined: Run, pool: FakePool, home: Path
    ) -> None:
        joined(*REPAIR, "--yes")
        (report_id,) = pool.reports
        pool.instead = lambda c: problem(403, "Not yours") if "followups" in c.path else None
        told = joined("followup", report_id, "--state", "holding")
        assert told.exit_code == 3
        (entry,) = queued(home)
        assert f"mendpool outbox --drop {entry['id']}" in told.stderr.replace("\n", " ")
        # The next report goes through, so that one is set aside.
        joined(*REPAIR, "--yes")
        assert [e["state"] for e in queued(home)] == ["parked"]

    def test_another_members_report_is_refused(self, joined: Run) -> None:
        other = "01930000-0000-7000-8000-000000000001"
        told = joined("followup", other, "--state", "holding")
        assert told.exit_code == 3
        assert "Not here" in told.stderr


class TestGuided:
    def test_bare_it_asks_and_then_shows(self, joined: Run, pool: FakePool) -> None:
        joined(*BARN)
        answers = [
            "1",  # the barn's set
            "runs sweet, no power",
            "",  # nothing just before
            "residual 0.4 V",
            "",  # no more readings
            "avr",
            "replace",
            "no-change",
            "40",
            "",  # no more attempts
            "",  # cause not known
            "not-repaired",
            "",  # nothing left bridged
            "",  # no note
            "y",
        ]
        told = joined("report", typed="\n".join(answers) + "\n")
        assert told.exit_code == 0, told.output
        report = stored(pool)
        assert report["complaint"] == "runs sweet, no power"
        assert report["readings"] == [{"text": "residual 0.4 V"}]
        assert report["attempts"] == [
            {"component": "avr", "action": "replace", "result": "no-change", "minutes": 40.0}
        ]
        assert report["machine"]["rated_kva"] == 6.5
        assert "THIS WILL BE SENT" in told.stdout

    def test_breaking_off_keeps_nothing(self, joined: Run, home: Path) -> None:
        told = joined("report", typed="1\n")
        assert told.exit_code == 130
        assert queued(home) == []
