"""k, l and the average risk, against the inpatient tables of Machanavajjhala, Kifer, Gehrke and
Venkitasubramaniam, 'l-Diversity: Privacy Beyond k-Anonymity', ACM TKDD 1(1), 2007, figures 1
to 3 (typed from memory of the paper; its claims: the second table is 4-anonymous, the third
3-diverse)."""

from hypothesis import given
from hypothesis import strategies as st

from mendpool.core.privacy.anonymity import Anonymity, Row, measure
from mendpool.core.privacy.coarse import coarse_followup, coarse_report

# Post code, age, nationality, condition.
PATIENTS = (
    ("13053", 28, "Russian", "heart"),
    ("13068", 29, "American", "heart"),
    ("13068", 21, "Japanese", "viral"),
    ("13053", 23, "American", "viral"),
    ("14853", 50, "Indian", "cancer"),
    ("14853", 55, "Russian", "heart"),
    ("14850", 47, "American", "viral"),
    ("14850", 49, "American", "viral"),
    ("13053", 31, "American", "cancer"),
    ("13053", 37, "Indian", "cancer"),
    ("13068", 36, "Japanese", "cancer"),
    ("13068", 35, "American", "cancer"),
)


def four_anonymous(code: str, age: int) -> str:
    tens = "under 30" if age < 30 else "3x" if age < 40 else "40 up"
    return f"{code[:4] if tens == '40 up' else code[:3]} {tens}"


def three_diverse(code: str, age: int) -> str:
    return f"{code[:4]} {'up to 40' if age <= 40 else 'over 40'}"


def table(how: str) -> list[Row]:
    ways = {"four": four_anonymous, "three": three_diverse}
    return [
        Row(ways[how](c, a) if how in ways else f"{c} {a} {n}", str(i), said)
        for i, (c, a, n, said) in enumerate(PATIENTS)
    ]


def test_as_they_came_in_each_patient_stands_alone() -> None:
    assert measure(table("raw"), k=3, l=2) == Anonymity(12, 12, 1, 1, 1.0, 12, 12, 1.0)


def test_the_second_table_is_4_anonymous_and_tells_who_has_cancer() -> None:
    assert measure(table("four"), k=4, l=2) == Anonymity(12, 3, 4, 1, 0.0, 0, 1, 0.25)


def test_the_third_table_is_3_diverse() -> None:
    assert measure(table("three"), k=4, l=3) == Anonymity(12, 3, 4, 3, 0.0, 0, 0, 0.25)


def test_two_reports_of_one_person_do_not_hide_each_other() -> None:
    rows = [Row("a", "alder", "x"), Row("a", "alder", "y"), Row("b", "birch", "x")]
    found = measure(rows, k=2, l=2)
    assert (found.k, found.unique_share, found.average_risk) == (1, 1.0, 1.0)


def test_no_record_has_no_risk() -> None:
    assert measure([], k=3, l=2) == Anonymity(0, 0, 0, 0, 0.0, 0, 0, 0.0)


_FEW = st.sampled_from("abcd")


@given(st.lists(st.builds(Row, _FEW, _FEW, _FEW), min_size=1))
def test_making_a_table_coarser_never_makes_anyone_easier_to_find(rows: list[Row]) -> None:
    fine = measure(rows, k=2, l=2)
    coarse = measure([row._replace(seen="all") for row in rows], k=2, l=2)
    assert coarse.k >= fine.k
    assert coarse.l >= fine.l
    assert coarse.average_risk <= fine.average_risk + 1e-9
    assert coarse.unique_share <= fine.unique_share


def test_a_followup_whose_repair_has_no_month_tells_its_year_alone() -> None:
    told = {"happened": "2026-07", "state": "holding", "note": "ran all summer", "hours_run": 9}
    assert coarse_followup(told, None) == {"happened": "2026-01", "state": "holding"}


def test_a_coarse_report_has_no_month_where_none_was_given() -> None:
    coarse = coarse_report({"machine": {"fuel": "diesel"}, "outcome": "repaired"})
    assert "happened" not in coarse
    assert "attempts" not in coarse
