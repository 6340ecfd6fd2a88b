"""What a steward is shown of reports, and why; never a word of their text."""

from typing import Any

import pytest

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.files import packaged_texts
from mendpool.core.catalogue.loader import load_catalogue
from mendpool.core.errors import CatalogueError
from mendpool.core.evidence.suspect import FLOOD, Looked, suspects

from tests.factories import make_attempt, make_case, make_report

pytestmark = pytest.mark.usefixtures("parsed_once")

DAY = "2026-11-25"


def looked(number: int = 0, day: str = DAY, **changes: Any) -> Looked:
    """A report whose words no other number has."""
    words = tuple(f"w:{letter}{number}" for letter in "abcdef")
    case = make_case(**{"group": number, "terms": words, **changes.pop("case", {})})
    return Looked(case, day, make_report(**changes))


def why(reports: list[Looked], catalogue: Catalogue) -> list[tuple[str, str]]:
    found = suspects(reports, catalogue)
    return [(one.code, one.says) for report in reports for one in found.get(report.case.id, [])]


def test_an_ordinary_report_is_not_shown(catalogue: Catalogue) -> None:
    assert suspects([looked(1), looked(2)], catalogue) == {}


def test_a_flood_is_one_members_on_one_day(catalogue: Catalogue) -> None:
    def many(count: int, days: int = 1) -> list[Looked]:
        return [
            looked(n, f"2026-11-{n % days + 1:02}", case={"group": 7}) for n in range(count)
        ]

    assert suspects(many(FLOOD - 1), catalogue) == {}
    assert len(suspects(many(FLOOD), catalogue)) == FLOOD
    assert suspects(many(FLOOD, days=2), catalogue) == {}
    assert why(many(FLOOD), catalogue)[0][1] == f"one of {FLOOD} by one member on 2026-11-01"


def test_a_copy_is_shown_and_what_it_is_a_copy_of_is_not(catalogue: Catalogue) -> None:
    terms = ("w:a", "w:b", "w:c", "w:d", "s:no-output")
    first = looked(1, case={"terms": terms, "group": 1})
    other = looked(2, case={"terms": terms, "group": 2})
    assert why([first, other], catalogue) == [("copy", f"much like {first.case.id}")]


@pytest.mark.parametrize(
    ("quantity", "point", "inside", "outside"),
    [
        ("voltage-ac", "output", 999, 1001),
        ("frequency", "output", 0, -1),
        ("temperature", "coolant", -60, -61),
        ("specific-gravity", "battery", 1.5, 1.6),
        ("engine-speed", "crankshaft", 8000, 8001),
    ],
)
def test_a_figure_that_no_set_shows_is_shown(
    catalogue: Catalogue, quantity: str, point: str, inside: float, outside: float
) -> None:
    def reading(**figures: float) -> list[Looked]:
        held = {"quantity": quantity, "point": point, "unit": "u", **figures}
        return [looked(1, readings=[held])]

    assert why(reading(value=inside), catalogue) == []
    ((code, says),) = why(reading(value=outside), catalogue)
    assert code == "impossible"
    assert f"{outside:g}" in says
    assert [c for c, _ in why(reading(value=inside, max=outside * 100), catalogue)] == [
        "impossible"
    ]


def test_a_part_that_such_a_set_has_not_is_shown(catalogue: Catalogue) -> None:
    machine = {"fuel": "diesel", "excitation": "brushless-avr"}
    case = {"attempts": (make_attempt("brushes"),)}
    assert why([looked(1, machine=machine, case=case)], catalogue) == [
        ("misfit", "such a set has none: brushes")
    ]


def test_advice_is_shown_of_a_report_and_of_what_was_seen_later(catalogue: Catalogue) -> None:
    told = [("advice", "dangerous: worked on it live")]
    assert why([looked(1, case={"advice": ("worked-live",)})], catalogue) == told
    assert why([looked(1, followups=[{"advice": ["worked-live"]}])], catalogue) == told


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ("", "voltage-ac: no entry"),
        ("zeal: {low: 0, high: 1}", "zeal: no such quantity"),
        ("frequency: {low: 1, high: 1}", "low must be under high"),
    ],
)
def test_what_is_possible_is_checked_at_load(more: str, says: str) -> None:
    with pytest.raises(CatalogueError) as told:
        load_catalogue({**packaged_texts(), "possible.yaml": more})
    assert any(line.startswith("possible.yaml") and says in line for line in told.value.lines)
