"""Scrubbing a whole record: which fields, and what each may keep."""

from typing import Any

from mendpool.core.privacy.scrub import scrub_record
from mendpool.core.record.report import Report

from tests.core.scrub_words import language, ordinary_words, trade_words


def clean(body: dict[str, Any]) -> tuple[dict[str, Any], dict[str, int]]:
    return scrub_record(body, trade_words(), ordinary_words(), language(), "GB")


REPORT: dict[str, Any] = {
    "machine": {"fuel": "diesel", "make": "Fennick", "model": "F2800"},
    "complaint": "The old Fennick stopped, Fennick's badge fell off, ask Lorcan",
    "readings": [{"text": "residual 3 V, ring 020 7946 0123"}],
    "attempts": [
        {"component": "avr", "action": "replace", "result": "fixed",
         "part": "AVR from o.plimsett@example.org", "fits": "s/n: AB-99120, 4 pin"},
    ],
    "outcome": "repaired",
    "region": "river flats, 14 Mill Lane, P.O. Box 4411",
    "note": "Fixed 14 March by Lorcan",
}  # fmt: skip


def test_all_free_text_of_a_report_is_scrubbed_and_counted() -> None:
    kept, removed = clean(REPORT)
    assert kept["complaint"].endswith("ask [name]")
    assert kept["note"] == "Fixed [day] March by [name]"
    assert kept["attempts"][0]["part"] == "AVR from [email]"
    assert kept["attempts"][0]["fits"] == "s/n: [number], 4 pin"
    assert kept["readings"][0]["text"] == "residual 3 V, ring [phone]"
    assert "4411" not in kept["region"]
    assert removed == {"address": 1, "day": 1, "email": 1, "name": 2, "number": 1, "phone": 1}


def test_a_reading_keeps_its_figure_and_loses_who_took_it() -> None:
    for field in ("text", "value"):
        kept, removed = clean(
            {
                "machine": {"fuel": "diesel"},
                "readings": [
                    {field: "238 V at the outlet, ask Lorcan Plimsett, ring 020 7946 0123"}
                ],
            }
        )
        assert kept["readings"][0][field] == "238 V at the outlet, ask [name], ring [phone]"
        assert removed == {"name": 1, "phone": 1}
    figures = [{"value": "59,6 hz"}, {"text": "residual 3 volts with the AVR unplugged"}]
    assert clean({"machine": {}, "readings": figures})[0]["readings"] == figures


def test_a_make_is_no_name_anywhere_in_its_own_report() -> None:
    kept, _ = clean(REPORT)
    assert kept["complaint"].startswith("The old Fennick stopped, Fennick's badge")
    without = {**REPORT, "machine": {"fuel": "diesel"}}
    assert clean(without)[0]["complaint"].startswith("The old [name] stopped")


def test_a_make_and_a_region_lose_numbers_only() -> None:
    body = {
        "machine": {"make": "Brackwater Tulloch", "model": "s/n: AB-99120"},
        "region": "Dunmere",
    }
    kept, removed = clean(body)
    assert kept == {
        "machine": {"make": "Brackwater Tulloch", "model": "s/n: [number]"},
        "region": "Dunmere",
    }
    assert removed == {"number": 1}


def test_the_record_handed_in_is_left_as_it_is() -> None:
    before = repr(REPORT)
    clean(REPORT)
    assert repr(REPORT) == before


def test_a_record_of_nothing_to_remove_comes_back_the_same() -> None:
    body = {"happened": "2025-02", "state": "holding", "note": "Still fine at 140 hours"}
    assert clean(body) == (body, {})


def test_what_grew_past_its_bound_is_cut_so_that_the_record_stays_valid() -> None:
    short = " ".join(["a@b.cd"] * 8)  # 55 characters, each address replaced by a longer word
    kept, removed = clean({**REPORT, "region": short})
    assert removed["email"] >= 8
    assert len(kept["region"]) <= 60
    assert kept["region"].split() == ["[email]"] * 7
    Report.model_validate(kept)
