"""The last question about each set, what is at hand, and how an answer tells of both."""

from pathlib import Path

import pytest

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.files import packaged_catalogue
from mendpool.core.errors import RefusedInput
from mendpool.core.record.machine import Machine
from mendpool_field.figures_typed import figure_of
from mendpool_field.having import at_hand
from mendpool_field.render import answer_text
from mendpool_field.turn import KEYS

from tests.field.conftest import Run
from tests.field.fake_pool import ANSWER, FakePool
from tests.field.samples import BARN
from tests.field.walking import BRUSHES, GET_BY


@pytest.fixture(scope="module")
def catalogue() -> Catalogue:
    return packaged_catalogue()


class TestAgain:
    def test_each_set_has_its_own_last_question(self, joined: Run, pool: FakePool) -> None:
        joined(*BARN)
        joined("set", "add", "pump", "--fuel", "petrol")
        joined("ask", "--on", "barn", "no power", "--have", "brushes", "--must-run", "3 kVA")
        joined("ask", "--on", "pump", "won't start")
        told = joined("ask", "--on", "barn", "--again", "--found", "walk-round=all-right",
                      "-r", "residual 0.4 V", "--tried", "avr replace no-change")  # fmt: skip
        assert told.exit_code == 0, told.output
        asked = pool.calls[-1].json
        assert asked["complaint"] == "no power"
        assert asked["at_hand"] == ["brushes"]
        assert asked["must_run"] == 3.0
        assert asked["observations"] == [{"check": "walk-round", "found": "all-right"}]
        assert asked["tried"][0]["component"] == "avr"
        # Without a name it is the last one of all, and stays that set's.
        assert joined("ask", "--again", "-s", "outlet-look=sound").exit_code == 0
        assert len(pool.calls[-1].json["observations"]) == 2

    def test_without_one_about_that_set_it_says_how(self, joined: Run) -> None:
        joined(*BARN)
        joined("ask", "no power", "--fuel", "diesel")
        told = joined("ask", "--on", "barn", "--again")
        assert told.exit_code == 2
        assert "no last question about barn" in told.stderr
        assert "mendpool ask --on barn" in told.stderr

    def test_a_get_by_is_asked_for_each_time_anew(self, joined: Run, pool: FakePool) -> None:
        joined(*BARN)
        first = joined("ask", "--on", "barn", "no power", "--steps", typed="q\n")
        assert first.exit_code == 0
        joined("ask", "--on", "barn", "no power")
        assert "get_by" not in pool.calls[-1].json

    def test_the_kept_name_can_not_lead_out_of_the_folder(
        self, joined: Run, home: Path
    ) -> None:
        joined("ask", "no power")
        (home / "asked.json").write_text('{"on": "../sets"}', "utf-8")
        told = joined("ask", "--again")
        assert told.exit_code == 2


@pytest.mark.parametrize(
    ("typed", "codes"),
    [
        (["brushes,avr"], ["brushes", "avr"]),
        (["carbon brushes", "multimeter"], ["brushes", "multimeter"]),
        (["Second Person, torch"], ["second-person", "torch"]),
        (["spanner"], ["spanners"]),
        (["mutlimeter"], ["multimeter"]),
        (["a long rope", "a long rope"], ["a long rope"]),
        ([" , ,"], []),
        (["x" * 80], ["x" * 60]),
    ],
)
def test_what_is_at_hand_goes_by_its_code_if_it_has_one(
    catalogue: Catalogue, typed: list[str], codes: list[str]
) -> None:
    assert at_hand(typed, catalogue) == codes


def test_every_result_of_every_check_has_a_key(catalogue: Catalogue) -> None:
    assert max(len(check.found) for check in catalogue.checks.values()) <= len(KEYS)
    assert len(catalogue.vocabulary.results) <= len(KEYS)
    assert not set(KEYS) & set("sbwgrdeq")


@pytest.mark.parametrize(
    ("typed", "is_the_checks"),
    [
        ("0.4", True),
        ("238 V", True),
        ("about 238 V ac", True),
        ("236 to 241 V", True),
        ("residual 0.4 V", False),
        ("61 hz at the outlet", False),
    ],
)
def test_a_figure_is_the_checks_where_it_is_bare(
    catalogue: Catalogue, typed: str, is_the_checks: bool
) -> None:
    machine = Machine(fuel="diesel", rated_volts=240)
    check = catalogue.checks["output-volts"]
    assert figure_of(typed, check, machine, catalogue)[2] is is_the_checks


@pytest.mark.parametrize("typed", ["", "rubbish", "3 bananas", "59,6 hz", "1" * 400])
def test_what_is_no_figure_there_is_refused(catalogue: Catalogue, typed: str) -> None:
    check = catalogue.checks["output-volts"]
    with pytest.raises(RefusedInput):
        figure_of(typed, check, Machine(), catalogue)


def test_flags_waits_and_what_is_as_good_are_told() -> None:
    flags = [{"code": "two-faults", "says": "It looks like two faults at once."}]
    answer = {**ANSWER, "flags": flags, "plan": [BRUSHES], "get_bys": [GET_BY]}
    text = " ".join(answer_text(answer, 60).split())
    for words in (
        "TAKE NOTE * It looks like two faults at once.",
        "Wait: a part is not at hand; getting it counts as about 4 h more.",
        "Comes off: end cover",
        "Or: cleaning the rings first is as good",
        "Limit: one night, never alone",
    ):
        assert words in text
    assert text.index("None of these mends anything") < text.index("fuel solenoid, bypass")
