"""What was used last stands first, one key away, and nothing more is kept for it."""

import json
import os
from pathlib import Path
from typing import Any

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool_field.disk import write_object
from mendpool_field.outbox import Entry, Outbox
from mendpool_field.sessions import Session, Sessions
from mendpool_field.usual import OFFERED, Used, Usual

from tests.field.conftest import Run
from tests.field.fake_pool import FakePool
from tests.field.walking import AVR, LOOK, Planner, kept, lines

PLATES = {
    "barn": {"fuel": "diesel", "rated_kva": 6.5, "hours": 1240},
    "pump": {"fuel": "petrol", "rated_kva": 3.0},
    "well": {"fuel": "lpg"},
}
NEW = ("report", "--yes")


def filed(home: Path, number: int, machine: dict[str, Any], **told: Any) -> None:
    """Put a report into what was sent, made so many seconds after the first."""
    report_id = f"{0x0199_0000_0000 + 1000 * number:012x}"
    report_id = f"{report_id[:8]}-{report_id[8:]}-7000-8000-{number:012x}"
    outbox = Outbox(home)
    entry = Entry(report_id, "report", report_id, json.dumps({"machine": machine, **told}))
    outbox.save(entry)
    outbox.mark_sent(entry)


def barn(**more: Any) -> dict[str, Any]:
    return {"fuel": "diesel", "rated_kva": 6.5, **more}  # hours run were not sent


class TestWhatIsReadOff:
    def test_sets_by_when_they_were_last_used(self, home: Path) -> None:
        filed(home, 1, PLATES["pump"])
        filed(home, 2, barn(make="Harrow"))
        assert list(Used(home).first(PLATES)) == ["barn", "pump", "well"]
        session = Session("well", PLATES["well"], {"complaint": "dead"})
        Sessions(home).keep(session, 0x0199_0000_0000 / 1000 + 3)
        assert list(Used(home).first(PLATES)) == ["well", "barn", "pump"]
        write_object(home / "asked" / "pump.json", {"machine": {}, "complaint": "no"})
        late = 0x0199_0000_0000 / 1000 + 9
        os.utime(home / "asked" / "pump.json", (late, late))
        assert list(Used(home).first(PLATES)) == ["pump", "well", "barn"]

    def test_readings_and_parts_of_that_set_the_last_first(
        self, home: Path, catalogue: Catalogue
    ) -> None:
        filed(
            home, 1, barn(),
            readings=[{"text": "residual 0.4 V"}, {"text": "output 238 V no load"},
                      {"text": "oil 3 bar", "stage": "left"}, {"text": "what is this"}],
            attempts=[{"component": "avr"}, {"component": "brushes"}],
        )  # fmt: skip
        filed(home, 2, PLATES["pump"], attempts=[{"component": "fuel-filter"}])
        filed(home, 3, barn(), attempts=[{"component": "no-such-part"}, {"component": "avr"}])
        used = Used(home).on("barn", PLATES["barn"], catalogue)
        assert used.readings == (("voltage-ac", "output"), ("residual-voltage", "output"))
        assert used.parts == ("avr", "brushes")
        assert Used(home).on("well", PLATES["well"], catalogue) == Usual()

    def test_few_are_offered_however_many_there_were(
        self, home: Path, catalogue: Catalogue
    ) -> None:
        for number, part in enumerate(list(catalogue.vocabulary.components)[:12]):
            filed(home, number, barn(), attempts=[{"component": part}])
        assert len(Used(home).on("barn", PLATES["barn"], catalogue).parts) == OFFERED

    def test_what_can_not_be_read_is_passed_over(
        self, home: Path, catalogue: Catalogue
    ) -> None:
        filed(home, 1, barn(), attempts=[{"component": "avr"}])
        for folder, name in (("asked", "barn"), ("sessions", "barn"), ("outbox", "x")):
            (home / folder).mkdir(exist_ok=True)
            (home / folder / f"{name}.json").write_bytes(b"\x00{")
        filed(home, 2, {"fuel": "soup"}, readings=[{"text": "238 V"}, 7], attempts=[])
        assert Used(home).on("barn", PLATES["barn"], catalogue).parts == ("avr",)

    def test_a_sentence_of_json_gives_the_same_back(self) -> None:
        usual = Usual((("voltage-ac", "output"),), ("avr",))
        assert Usual.of(json.loads(json.dumps(usual.told()))) == usual


def own_sets(run: Run) -> None:
    for name in ("aaa", "barn"):
        run("set", "add", name, "--fuel", "diesel", "--kva", "6.5" if name == "barn" else "3")
    told = run(
        "report", "no power", "--on", "barn", "--reading", "residual 0.4 V", "--tried",
        "brushes replace no-change", "--outcome", "open", "--yes",
    )  # fmt: skip
    assert told.exit_code == 0, told.output


def queued_last(home: Path) -> dict[str, Any]:
    entries = Outbox(home).entries()
    body: dict[str, Any] = json.loads(entries[-1].body)
    return body


class TestTheGuidedReport:
    ANSWERS = (
        "1", "no power again", "", "1", "0,6", "", "1", "clean", "fixed", "", "", "1", "1", "1",
    )  # fmt: skip

    def test_one_key_each_for_the_last_set_reading_and_part(
        self, cut_off: Run, home: Path
    ) -> None:
        own_sets(cut_off)
        told = cut_off(*NEW, typed=lines(*self.ANSWERS, "", "", "y"), COLUMNS="40")
        assert told.exit_code == 0, told.output
        assert "Key 1: barn.\nKey 2: aaa.\n" in told.stderr
        assert "Key 1: residual voltage, output.\n" in told.stderr
        rows = [row.removeprefix("Your answer? ") for row in told.stderr.splitlines()]
        assert max(map(len, rows)) <= 40
        body = queued_last(home)
        assert body["machine"]["rated_kva"] == 6.5
        place = {"quantity": "residual-voltage", "point": "output"}
        assert body["readings"] == [{**place, "value": "0,6"}]
        (attempt,) = body["attempts"]
        assert (attempt["component"], attempt["action"]) == ("brushes", "clean")

    def test_a_figure_that_can_not_be_is_asked_again_and_enter_drops_it(
        self, cut_off: Run, home: Path
    ) -> None:
        own_sets(cut_off)
        typed = ("1", "no power", "", "1", "soup", "", "output 231 V", "", "", "", "open")
        told = cut_off(*NEW, typed=lines(*typed, "", "", "y"))
        assert told.exit_code == 0, told.output
        assert queued_last(home)["readings"] == [{"text": "output 231 V"}]

    def test_after_a_dead_battery_the_keys_mean_what_they_meant(
        self, cut_off: Run, home: Path
    ) -> None:
        own_sets(cut_off)
        cut_off(*NEW, typed=lines(*self.ANSWERS[:4]))
        # Another set is used in between, and would now stand first.
        other = ("report", "dead", "--on", "aaa", "--outcome", "open", "--yes")
        assert cut_off(*other).exit_code == 0
        told = cut_off(*NEW, typed=lines("y", *self.ANSWERS[4:], "", "", "y"))
        assert "4 answers are kept" in told.stderr
        assert told.exit_code == 0, told.output
        body = queued_last(home)
        assert body["machine"]["rated_kva"] == 6.5
        assert body["readings"][0]["value"] == "0,6"


class TestTheSession:
    def test_sets_readings_and_parts_are_one_key_away(
        self, joined: Run, pool: FakePool, home: Path
    ) -> None:
        own_sets(joined)
        planner = Planner(LOOK, AVR).at(pool)
        typed = lines("1", "no power", "", "1", "r", "1", "0.5", "d", "1", "clean", "no-change")
        told = joined("ask", "--steps", typed=typed, COLUMNS="40")
        assert "Key 1: barn.\nKey 2: aaa.\n" in told.stderr
        assert "Key 1: residual voltage, output.\n" in told.stderr
        assert "Key 1: brushes and holder.\n" in told.stderr
        assert kept(home)["on"] == "barn"
        place = {"quantity": "residual-voltage", "point": "output"}
        assert {**place, "value": "0.5"} in planner.asked[-1]["readings"]
        # The keys of a dialogue are kept with it.
        assert kept(home)["dialog"]["about"]["parts"] == ["brushes"]
        assert kept(home)["dialog"]["typed"] == ["1", "clean", "no-change"]
