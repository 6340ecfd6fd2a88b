"""An answer as text: the order, the width, and no word lost or made up."""

from typing import Any

import pytest

from mendpool_field.layout import clean, fit_width, para, share
from mendpool_field.render import answer_text, judged_text
from mendpool_field.render_reports import found_text, plate_line, report_text

ANSWER: dict[str, Any] = {
    "cautions": [
        {
            "code": "live-test",
            "says": "Prove the meter on something live first.",
            "source": "common practice",
        },
        {"code": "moving-parts", "says": "Keep clear of the fan.", "source": ""},
    ],
    "symptoms": [
        {"code": "no-output", "from": "complaint", "confidence": 0.97},
        {"code": "vibration", "from": "said", "confidence": 1.0},
    ],
    "not_symptoms": ["overheats"],
    "understood": {"mended": {"powr": "power"}},
    "readings": [
        {
            "quantity": "residual-voltage",
            "point": "output",
            "condition": "no-load",
            "value": 0.4,
            "unit": "V",
            "verdict": "low",
            "low": 1.0,
            "high": 10.0,
            "source": "common practice",
            "means": "The iron has lost its magnetism.",
            "said": "Residual voltage 0.4 V.",
        },
        {
            "quantity": "specific-gravity",
            "point": "battery",
            "which": 3,
            "value": 1.265,
            "unit": "1",
            "verdict": "within",
            "low": 1.25,
            "sign": "about",
        },
        {
            "quantity": "power",
            "point": "output",
            "value": 3,
            "unit": "kW",
            "verdict": "unjudged",
        },
    ],
    "together": [{"code": "x", "says": "Two readings agree.", "readings": [0, 1]}],
    "causes": [
        {
            "component": "brushes",
            "failure": "worn",
            "probability": 0.4642,
            "catalogue_share": 0.29,
            "says": "brushes and holder: worn",
            "factors": [{"of": "residual-voltage low", "times": 2.1}],
        },
        {
            "component": "avr",
            "failure": "failed",
            "probability": 0.002,
            "catalogue_share": 0.8,
            "says": "voltage regulator: failed internally",
        },
        {"component": None, "failure": None, "probability": 0.06, "says": "something else"},
    ],
    "fixes": [
        {
            "component": "brushes",
            "action": "replace",
            "tried": 9,
            "fixed": 7,
            "says": "Worked 7 of the 9 times it was tried, by 6 people; 90 % range 50 to 92 %.",
            "holding_12_months": {"says": "Still holding in 6 of 8 that were followed."},
        },
        {"component": "avr", "action": "replace", "tried": 0, "says": "A guess."},
    ],
    "get_bys": [
        {
            "component": "fuel-solenoid",
            "action": "bypass",
            "worked": 4,
            "tried": 5,
            "people": 3,
            "protection_defeated": True,
            "risk": "It will not stop.",
            "restore": "Plug it in.",
        }
    ],
    "plan": [
        {
            "do": "test",
            "check": "brush-look",
            "how": "Lift the cover.",
            "expect": "10 mm left.",
            "results": [["long", "Long: they are well."], ["short", "Short: replace them."]],
            "minutes": 5.0,
            "saves": 14.0,
            "cautions": ["live-test"],
            "says": "Saves 14 min.",
        },
        {"do": "fix", "component": "brushes", "action": "replace", "says": "New brushes."},
        {"do": "call", "says": "Call someone."},
    ],
    "expected_minutes": 38.2,
    "evidence": {
        "reports_searched": 1200,
        "similar": 31,
        "contributors": 17,
        "from_catalogue_only": False,
    },
}

IN_FORTY_COLUMNS = """\
TAKE CARE
! LIVE TEST: Prove the meter on
  something live first. (source: common
  practice)
! MOVING PARTS: Keep clear of the fan.

DO THIS NEXT
1. Test: brush look (about 5 min)
   How: Lift the cover.
   Expect: 10 mm left.
   Why: Saves 14 min.
   Careful: live test.
   If: Long: they are well.
  mendpool ask -a -s brush-look=long
   If: Short: replace them.
  mendpool ask -a -s brush-look=short

AND AFTER THAT
2. Mend: New brushes.
3. Call: Call someone.

About 38 min in all, as far as can be
told.

READINGS
  Taken as: no output (from the
  complaint); vibration.
  Not: overheats.
  Read “powr” as power.
* residual voltage, output, no load: 0.4
  V, LOW
  Right is 1 to 10 V (source: common
  practice)
  The iron has lost its magnetism.
  Understood: Residual voltage 0.4 V.
* specific gravity, battery 3: about
  1.265, WITHIN
  Right is 1.25 or more
* power, output: 3 kW, UNJUDGED
  Together: Two readings agree.

ODDS
     46 %  brushes and holder: worn
           residual voltage low times
           2.1
under 1 %  voltage regulator: failed
           internally (mostly catalogue)
      6 %  something else

WHAT WORKED FOR OTHERS
* brushes, replace: Worked 7 of the 9
  times it was tried, by 6 people; 90 %
  range 50 to 92 %.
  Still holding in 6 of 8 that were
  followed.

ONLY TO GET BY
! None of these mends anything, and some
  take a protection away. At your own
  risk, watched all the time, and undone
  as soon as it can be.
* fuel solenoid, bypass: ran 4 of the 5
  times it was tried, by 3 people.
  It leaves a protection out of action.
  Risk: It will not stop.
  To undo: Plug it in.

WHAT THIS RESTS ON
  31 reports of cases like this one,
  from 17 people; 1200 searched."""


def test_in_forty_columns_it_reads_like_this() -> None:
    assert answer_text(ANSWER, 40) == IN_FORTY_COLUMNS


@pytest.mark.parametrize("width", [40, 57, 80, 100])
def test_nothing_but_a_command_is_wider_than_the_terminal(width: int) -> None:
    lines = answer_text(ANSWER, width).split("\n")
    assert [line for line in lines if len(line) > width and "mendpool" not in line] == []


def test_where_there_is_room_commands_are_written_out() -> None:
    assert "    mendpool ask --again --saw brush-look=long" in answer_text(ANSWER, 80).split(
        "\n"
    )


def test_a_test_is_called_by_its_name() -> None:
    says = "Ohms through the brushes: about 8 min. It is expected to save about 12 min."
    step = {"do": "test", "check": "brush-ohms", "minutes": 8.0, "says": says}
    assert answer_text({"plan": [step]}, 80) == (
        "DO THIS NEXT\n"
        "1. Test: Ohms through the brushes (about 8 min)\n"
        "   Why: It is expected to save about 12 min."
    )


def test_a_mend_says_what_to_type_either_way() -> None:
    text = answer_text({"plan": [ANSWER["plan"][1]]}, 80)
    assert 'mendpool report --again --tried "brushes replace fixed"' in text
    assert 'mendpool ask --again --tried "brushes replace no-change"' in text


def test_of_many_results_only_what_was_seen_is_told() -> None:
    results = [[f"r{n}", f"Seen {n}: meaning {n}."] for n in range(6)]
    step = {"do": "test", "check": "walk-round", "says": "x", "results": results}
    text = answer_text({"plan": [step]}, 80)
    assert "If: Seen 5\n" in text
    assert "meaning" not in text
    assert text.count("--saw walk-round=") == 6


def test_no_fix_tried_yet_is_said_once() -> None:
    text = answer_text({"fixes": [ANSWER["fixes"][1]] * 4}, 80)
    assert (
        text == "WHAT WORKED FOR OTHERS\n"
        "  No one has reported a fix tried on a fault like yours yet."
    )


def test_the_catalogue_alone_is_said() -> None:
    alone = {"from_catalogue_only": True, "reports_searched": 12, "similar": 0}
    assert "The trade catalogue alone" in answer_text({"evidence": alone}, 80)


def test_one_report_of_one_person_is_in_the_singular() -> None:
    one = {"similar": 1, "contributors": 1, "reports_searched": 1}
    assert "One report of cases like this one, from one person" in answer_text(
        {"evidence": one}, 80
    )


def test_words_that_were_not_understood_are_said_to_be() -> None:
    text = answer_text({"symptoms": [], "readings": []}, 80)
    assert "Nothing that it does was recognised in your words." in text


def test_an_empty_answer_is_empty() -> None:
    assert answer_text({}, 40) == ""
    assert judged_text({"readings": None}, 40) == ""


REPORT: dict[str, Any] = {
    "machine": {
        "make": "Harrow",
        "model": "6D",
        "fuel": "diesel",
        "excitation": "not-known",
        "class": "G2",
        "phases": 1,
        "rated_kva": 6.5,
        "start_volts": 12,
        "altitude_m": 900,
        "hours": 1240,
    },
    "complaint": "no power",
    "symptoms": ["no-output"],
    "before": ["stood-long"],
    "readings": [
        {"text": "residual 0.4 V"},
        {
            "quantity": "voltage-ac",
            "point": "output",
            "value": 238,
            "unit": "V",
            "min": 236.2,
            "max": 239.5,
            "minutes": 20,
            "which": 2,
            "sign": "about",
            "stage": "left",
            "mark": 240,
            "at_degC": 20,
            "condition": "no-load",
            "verdict": "within",
        },
    ],
    "observations": [{"check": "spark", "found": "none", "which": 2}],
    "attempts": [
        {
            "component": "avr",
            "action": "replace",
            "result": "no-change",
            "part": "two-wire",
            "minutes": 40,
            "cost": 60,
            "with_next": True,
            "part_from": "spare",
            "wait_days": 3,
            "done_by": "self",
            "fits": "4 A",
        }
    ],
    "causes": [
        {"component": "brushes", "failure": "worn", "role": "root"},
        {"component": "avr"},
    ],
    "outcome": "repaired",
    "protection": {"found": "defeated", "left": "proved"},
    "happened": "2026-10",
    "region": "river flats",
    "note": "left one down",
    "continues": "01930000-0000-7000-8000-000000000001",
    "followups": [
        {"happened": "2027-02", "state": "holding", "hours_run": 140, "note": "fine"}
    ],
    "cautions": [{"code": "x", "says": "Mind the fan.", "source": "common practice"}],
}


def test_everything_that_is_sent_is_shown() -> None:
    text = " ".join(report_text(REPORT, 100).replace("-", " ").split())
    for told in _told(REPORT):
        assert told in text, told
    assert "LEFT DEFEATED" in report_text({"protection_defeated": True}, 80)


def test_a_plate_leaves_out_what_nobody_knows() -> None:
    assert plate_line({"fuel": "diesel", "excitation": "not-known"}) == "diesel"


def test_a_list_names_each_report_whole() -> None:
    text = found_text(
        [{"id": "a", **REPORT}, {"id": "b", "symptoms": ["no-output"]}], 60, more=True
    )
    assert text.startswith("a\n  Harrow, 6D, diesel")
    assert "repaired, brushes, worn (root); avr" in text
    assert "\nb\n  no output\n" in text
    assert "--limit" in text


class TestLayout:
    def test_width_stays_within_reason(self) -> None:
        assert [fit_width(columns) for columns in (0, 39, 40, 80, 300)] == [40, 40, 40, 80, 100]

    def test_control_and_direction_marks_are_taken_out(self) -> None:
        assert clean("a\x1b[31mb\u202ec\u2028d\x00\ud800 \t\n e") == "a [31mb c d e"
        assert clean(None) == ""

    def test_long_words_are_broken_and_short_text_is_not(self) -> None:
        assert para("x" * 90, 40, first="* ") == [
            f"* {'x' * 38}",
            f"  {'x' * 38}",
            f"  {'x' * 14}",
        ]
        assert para("", 40, first="* ") == ["*"]
        assert para("", 40) == []

    @pytest.mark.parametrize(
        ("value", "told"),
        [
            (0.0, "0 %"),
            (0.004, "under 1 %"),
            (0.0099, "under 1 %"),
            (0.01, "1 %"),
            (0.46, "46 %"),
            (1.0, "100 %"),
        ],
    )
    def test_shares_in_whole_per_cent(self, value: float, told: str) -> None:
        assert share(value) == told
        assert share(None) == "not known"


def _told(value: object) -> list[str]:
    """Every leaf of a report as a reader must find it."""
    if isinstance(value, dict):
        return [told for key, inner in value.items() if key != "code" for told in _told(inner)]
    if isinstance(value, list):
        return [told for inner in value for told in _told(inner)]
    if value in (True, "not-known"):
        return []
    if isinstance(value, float | int):
        return [f"{value:g}"]
    return [str(value).replace("-", " ")]
