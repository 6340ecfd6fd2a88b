"""`mendpool ask` and `mendpool judge`, with the pool, cut off from it, and with none."""

import json
import threading

from tests.field.conftest import Run
from tests.field.fake_pool import FakePool, as_json, problem
from tests.field.samples import BARN


def question(pool: FakePool) -> dict[str, object]:
    return pool.calls[-1].json


class TestAsk:
    def test_the_short_form_is_all_that_is_typed(self, joined: Run, pool: FakePool) -> None:
        assert joined(*BARN).exit_code == 0
        told = joined("ask", "--on", "barn", "runs but no power", "--reading", "residual 0.4 V")
        assert told.exit_code == 0, told.output
        assert question(pool) == {
            "machine": {
                "fuel": "diesel",
                "excitation": "not-known",
                "rated_kva": 6.5,
                "rated_volts": 240.0,
                "rated_hz": 60.0,
                "rated_rpm": 1800.0,
            },
            "complaint": "runs but no power",
            "readings": [{"text": "residual 0.4 V"}],
        }
        assert told.stdout.startswith("TAKE CARE")

    def test_a_complaint_needs_no_quotes(self, joined: Run, pool: FakePool) -> None:
        assert joined("ask", "runs", "but", "no", "power").exit_code == 0
        assert question(pool)["complaint"] == "runs but no power"

    def test_every_option_reaches_the_pool(self, joined: Run, pool: FakePool) -> None:
        told = joined(
            "ask",
            "dead",
            "--fuel",
            "petrol",
            "--excitation",
            "capacitor",
            "--symptom",
            "no-output",
            "--saw",
            "outlet-look=burnt@2",
            "--tried",
            "avr replace no-change minutes=40 cost=60 part='two-wire regulator'",
            "--have",
            "multimeter",
            "--before",
            "stood-long",
            "--must-run",
            "3,5",
            "--limit",
            "3",
        )
        assert told.exit_code == 0, told.output
        assert question(pool) == {
            "machine": {"fuel": "petrol", "excitation": "capacitor"},
            "complaint": "dead",
            "symptoms": ["no-output"],
            "observations": [{"check": "outlet-look", "found": "burnt", "which": 2}],
            "tried": [
                {
                    "component": "avr",
                    "action": "replace",
                    "result": "no-change",
                    "minutes": 40.0,
                    "part": "two-wire regulator",
                }
            ],
            "at_hand": ["multimeter"],
            "before": ["stood-long"],
            "must_run": 3.5,
            "limit": 3,
        }

    def test_again_adds_to_the_last_question(self, joined: Run, pool: FakePool) -> None:
        joined("ask", "no power", "--fuel", "diesel", "-s", "walk-round=all-right")
        told = joined("ask", "--again", "-s", "residual-volts=low", "-s", "walk-round=fuel-out")
        assert told.exit_code == 0, told.output
        assert question(pool)["complaint"] == "no power"
        assert question(pool)["observations"] == [
            {"check": "residual-volts", "found": "low"},
            {"check": "walk-round", "found": "fuel-out"},
        ]

    def test_again_without_a_last_question_says_so(self, joined: Run) -> None:
        told = joined("ask", "--again")
        assert told.exit_code == 2
        assert "no last question" in told.stderr

    def test_json_is_the_answer_as_it_came(self, joined: Run, pool: FakePool) -> None:
        pool.answer = {**pool.answer, "invented_later": [1, {"deep": None}]}
        told = joined("ask", "no power", "--json")
        assert json.loads(told.stdout) == pool.answer

    def test_an_answer_with_unknown_things_in_it_is_still_shown(
        self, joined: Run, pool: FakePool
    ) -> None:
        pool.answer = {
            "cautions": "none",
            "plan": [{"do": "dance", "says": "Try.", "results": [1, ["a"]]}],
            "causes": [{"probability": "high"}, 7],
            "readings": [{"value": "?"}],
            "fixes": [{"tried": 2}],
            "evidence": [],
            "symptoms": None,
        }
        told = joined("ask", "no power")
        assert told.exit_code == 0, told.output
        assert "Try." in told.stdout

    def test_nothing_said_is_a_matter_of_usage(self, joined: Run) -> None:
        told = joined("ask", "--fuel", "diesel")
        assert told.exit_code == 2
        assert "Next: Say it in your own words" in told.stderr

    def test_an_unknown_set_names_the_ones_there_are(self, joined: Run) -> None:
        joined(*BARN)
        told = joined("ask", "--on", "bran", "no power")
        assert told.exit_code == 2
        assert "Your sets are: barn." in told.stderr

    def test_an_observation_written_wrongly_says_how(self, joined: Run) -> None:
        told = joined("ask", "no power", "--saw", "residual low")
        assert told.exit_code == 2
        assert "--saw CHECK=RESULT" in told.stderr

    def test_without_a_pool_it_says_how_to_join_one(self, alone: Run) -> None:
        told = alone("ask", "no power")
        assert told.exit_code == 4
        assert "mendpool join URL" in told.stderr

    def test_cut_off_and_without_a_copy_it_ends_with_5(self, cut_off: Run) -> None:
        told = cut_off("ask", "no power")
        assert told.exit_code == 5
        assert told.stdout == ""
        assert "ask --offline" in told.stderr.replace("\n  ", " ")

    def test_offline_answers_from_the_catalogue_and_says_so(self, alone: Run) -> None:
        told = alone("ask", "--offline", "runs but no power", "-r", "residual 0.4 V", "--json")
        assert told.exit_code == 0, told.output
        answer = json.loads(told.stdout)
        assert answer["evidence"]["from_catalogue_only"] is True
        assert answer["plan"]
        assert "trade catalogue alone" in told.stderr

    def test_text_from_others_moves_no_cursor(self, joined: Run, pool: FakePool) -> None:
        evil = "\x1b[2J\x9b31m\u202eoops\r\n\x07"
        pool.answer = {**pool.answer, "cautions": [{"code": "x", "says": evil, "source": evil}]}
        text = joined("ask", "no power").stdout
        assert not [c for c in text if c != "\n" and (ord(c) < 32 or 127 <= ord(c) < 160)]
        assert "\u202e" not in text

    def test_bytes_that_are_no_text_are_refused_in_a_sentence(self, joined: Run) -> None:
        told = joined("ask", "no \udcff power")
        assert told.exit_code == 3
        assert "Traceback" not in told.output


class TestJudge:
    def test_the_pool_judges_when_it_answers_at_once(self, joined: Run, pool: FakePool) -> None:
        told = joined("judge", "residual 0.4 V", "59,6 Hz", "--fuel", "diesel")
        assert told.exit_code == 0, told.output
        assert pool.calls[-1].json == {
            "machine": {"fuel": "diesel"},
            "readings": [{"text": "residual 0.4 V"}, {"text": "59,6 Hz"}],
        }
        assert "LOW" in told.stdout
        assert told.stderr == ""

    def test_cut_off_it_judges_here_in_the_same_shape(self, cut_off: Run) -> None:
        told = cut_off("judge", "residual 0.4 V", "--json")
        assert told.exit_code == 0, told.output
        judged = json.loads(told.stdout)
        assert set(judged) == {"cautions", "readings", "together"}
        # Residual under 1 V is lost, 1 to 10 V whole: decision 8 of the trade's rulings.
        assert judged["readings"][0]["verdict"] == "low"
        assert told.stderr.startswith("Judged here: no way through")

    def test_with_no_pool_it_judges_here(self, alone: Run) -> None:
        told = alone("judge", "residual 4 V")
        assert told.exit_code == 0, told.output
        assert "WITHIN" in told.stdout
        assert "no pool was joined" in told.stderr

    def test_a_pool_that_hangs_is_not_waited_for(self, joined: Run, pool: FakePool) -> None:
        release = threading.Event()

        def hang(_: object) -> None:
            release.wait(5)

        pool.instead = hang
        try:
            told = joined("judge", "residual 0.4 V")
        finally:
            release.set()
        assert told.exit_code == 0, told.output
        assert "no answer within 0.3 s" in told.stderr

    def test_a_token_that_is_no_good_is_said(self, joined: Run) -> None:
        told = joined("judge", "residual 0.4 V", MENDPOOL_TOKEN="mp_other")
        assert told.exit_code == 0
        assert "Judged here: this is no member's token." in told.stderr

    def test_what_is_no_reading_is_refused_with_its_place(self, alone: Run) -> None:
        told = alone("judge", "residual 0.4 V", "blah")
        assert told.exit_code == 3
        assert "Reading 2" in told.stderr

    def test_a_refusal_of_the_pool_is_a_sentence(self, joined: Run, pool: FakePool) -> None:
        errors = [{"at": "/readings/0/text", "says": "no such unit", "did_you_mean": "kohm"}]
        pool.instead = lambda _: problem(422, "Refused", "See errors.", errors=errors)
        told = joined("judge", "residual 0.4 kohn")
        assert told.exit_code == 3
        assert told.stderr.startswith(
            "Reading 1, text: no such unit. Did you mean kohm?\nNext:"
        )

    def test_an_answer_that_is_no_object_is_not_shown(
        self, joined: Run, pool: FakePool
    ) -> None:
        pool.instead = lambda _: as_json([1, 2])
        told = joined("judge", "residual 0.4 V")
        assert told.exit_code == 0
        assert "is no mendpool" in told.stderr


def test_a_token_never_reaches_another_address(joined: Run, pool: FakePool) -> None:
    assert joined("join", pool.url).exit_code == 0
    with FakePool() as other:
        told = joined("ask", "no power", MENDPOOL_URL=other.url, MENDPOOL_TOKEN="")
        assert told.exit_code == 4
        assert [call.token for call in other.calls] == [None]
