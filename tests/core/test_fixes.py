"""What worked for others: plain counts, people, honest ranges."""

import pytest

from mendpool.core.diagnosis.engine import Engine
from mendpool.core.diagnosis.fixes import minutes_of
from mendpool.core.evidence.case import Case, Seen
from mendpool.core.evidence.fit import fit
from mendpool.core.evidence.intervals import shrunk_mean, wilson

from tests.core.asking import BRUSHED, asked, facts_of, fixes_of
from tests.core.fixing import BRUSHES, ENGINE, fixes, weighed
from tests.factories import make_attempt, make_case


def brush_repairs(worked: int, tried: int) -> list[Case]:
    """New brushes tried so often by as many people; the failures had another cause."""
    return [
        make_case(
            group=i,
            causes=("brushes/worn",) if i < worked else ("avr/failed",),
            attempts=(
                (make_attempt(),)
                if i < worked
                else (make_attempt(result="no-change"), make_attempt("avr"))
            ),
        )
        for i in range(tried)
    ]


# --- counts, people, worth


def test_counts_are_plain_and_name_the_people_and_the_repairs() -> None:
    cases = brush_repairs(7, 9)
    cases[1] = cases[1]._replace(group=0)
    shown = fixes(weighed(cases))[BRUSHES]
    assert (shown.tried, shown.fixed, shown.people) == (9, 7, 8)
    assert (shown.cured, shown.repairs) == (7, 9)
    assert "Worked 7 of the 9 times it was tried (78 %), from 8 people" in shown.says
    assert "the cure in 7 of 9 repairs like yours" in shown.says


def test_what_was_given_up_is_no_repair() -> None:
    lost = make_case(causes=(), attempts=(make_attempt(result="no-change"),), outcome="retired")
    shown = fixes(weighed([*brush_repairs(2, 2), lost]))[BRUSHES]
    assert (shown.tried, shown.fixed, shown.repairs) == (3, 2, 2)


def test_the_range_is_wilsons_on_the_weighted_counts() -> None:
    """The methods' screens page: nine reports worth 7.0, about 83 %, range 52 to 96 %."""
    weights = (1, 1, 0.9, 0.9, 0.8, 0.8, 0.4, 0.7, 0.5)
    cases = list(zip(brush_repairs(7, 9), weights, strict=True))
    shown = fixes(cases)[BRUSHES]
    assert shown.worth == 7.0
    assert shown.low is not None
    assert shown.high is not None
    assert (round(shown.low * 100), round(shown.high * 100)) == (52, 96)
    assert (shown.low, shown.high) == tuple(round(x, 4) for x in wilson(5.8, 7.0))


def test_the_range_never_narrows_by_reports_that_are_less_alike() -> None:
    alike = fixes(weighed(brush_repairs(7, 9)))[BRUSHES]
    unlike = fixes(weighed(brush_repairs(7, 9), 0.3))[BRUSHES]
    assert alike.low is not None
    assert unlike.low is not None
    assert unlike.low < alike.low
    assert unlike.tried == alike.tried


def test_the_rate_leans_on_the_pools_own_and_on_a_half_where_there_is_none() -> None:
    cases = weighed(brush_repairs(2, 2))
    assert fixes(cases)[BRUSHES].rate == round(shrunk_mean(2, 2, 0.5, 4), 4)
    pool = fit(
        make_case(group=i, terms=(f"w:a{i}",), attempts=(make_attempt(result="no-change"),))
        for i in range(60)
    )
    learned = fixes_of(ENGINE.with_fit(pool), facts_of(), cases)[BRUSHES]
    assert pool.fixes["brushes replace"].pool[0] == 0.0
    assert learned.rate is not None
    assert learned.rate < 0.5


def test_the_rate_leans_on_sets_of_the_same_family_first() -> None:
    """Methods section 2: within the family first, then the class, then the pool."""

    def tried(excitation: str, result: str) -> list[Case]:
        kind = {"fuel": "diesel", "excitation": excitation}
        return [
            make_case(group=i, kind=kind, terms=(f"w:{excitation}{i}",),
                      attempts=(make_attempt(result=result),))
            for i in range(20)
        ]  # fmt: skip

    well, badly = "brushed-avr", "transformer"
    pool = fit([*tried(well, "fixed"), *tried(badly, "no-change")])
    cases = weighed(brush_repairs(1, 2))
    rates = []
    for excitation in (well, badly):
        machine = BRUSHED.model_copy(update={"excitation": excitation})
        asked = fixes_of(ENGINE.with_fit(pool), facts_of(machine=machine), cases)
        rates.append(asked[BRUSHES].rate)
    assert rates[0] > 0.6
    assert rates[1] < 0.4


@pytest.mark.parametrize(
    ("worked", "tried", "says"),
    [
        (0, 0, "No one has reported trying this on a fault like yours."),
        (1, 1, "Tried once, it worked. One report proves little"),
        (0, 1, "Tried once, it did not work. One report proves little"),
        (2, 2, "Worked 2 of 2 times, from 2 people"),
        (1, 2, "Worked 1 of 2 times, from 2 people"),
        (3, 3, "Worked 3 of the 3 times it was tried (100 %), from 3 people"),
    ],
)
def test_few_reports_are_said_to_be_few(worked: int, tried: int, says: str) -> None:
    shown = fixes(weighed(brush_repairs(worked, tried)))[BRUSHES]
    assert shown.says.startswith(says)
    assert (shown.low is None) == (tried == 0)
    if tried in (1, 2):
        assert "(100 %)" not in shown.says


def test_what_is_shown_has_the_range_that_it_says() -> None:
    shown = fixes(weighed(brush_repairs(7, 9)))[BRUSHES]
    assert "90 % range 50 to 92 %" in shown.says


# --- the chance is never worked / tried


def one_after_the_other() -> list[Case]:
    """Causes .5, .3, .2; each cured by its own fix; everyone tries them in one order."""
    order = [
        ("brushes", "brushes/worn"),
        ("avr", "avr/failed"),
        ("slip-rings", "slip-rings/worn"),
    ]
    cases = []
    for number in range(100):
        which = 0 if number < 50 else 1 if number < 80 else 2
        attempts = [make_attempt(part, result="no-change") for part, _ in order[:which]]
        attempts.append(make_attempt(order[which][0]))
        cases.append(
            make_case(group=number, causes=(order[which][1],), attempts=tuple(attempts))
        )
    return cases


def test_the_last_one_tried_is_not_the_best_first_step() -> None:
    """Methods 2b: rate when tried .50, .60, 1.00; chance on a new complaint .50, .30, .20."""
    shown = fixes(weighed(one_after_the_other()))
    three = [shown[part, "replace"] for part in ("brushes", "avr", "slip-rings")]
    assert [fix.fixed / fix.tried for fix in three] == [0.5, 0.6, 1.0]
    assert [fix.cured / fix.repairs for fix in three] == [0.5, 0.3, 0.2]
    chances = [fix.chance for fix in three]
    assert chances == sorted(chances, reverse=True)
    assert chances == pytest.approx([0.5, 0.3, 0.2], abs=0.12)
    assert list(shown)[:2] == [BRUSHES, ("avr", "replace")]


def test_more_failures_on_other_causes_leave_the_chance_of_a_fix_alone() -> None:
    """Brushes renewed in vain where the regulator had failed say nothing against brushes."""
    first = [make_case(group=i) for i in range(10)]
    others = [
        make_case(group=50 + i, causes=("avr/failed",), attempts=attempts)
        for i in range(10)
        for attempts in [(make_attempt("avr"),)]
    ]
    vain = [
        case._replace(attempts=(make_attempt(result="no-change"), *case.attempts))
        for case in others
    ]
    straight = fixes(weighed([*first, *others]))[BRUSHES]
    in_vain = fixes(weighed([*first, *vain]))[BRUSHES]
    assert in_vain.fixed / in_vain.tried < straight.fixed / straight.tried
    assert in_vain.chance == straight.chance


def test_fixes_are_ordered_by_chance_and_nothing_is_shown_that_the_set_has_not() -> None:
    shown = list(fixes([]).values())
    assert [fix.chance for fix in shown] == sorted((f.chance for f in shown), reverse=True)
    brushless = facts_of().machine.model_copy(update={"excitation": "brushless-avr"})
    assert not [
        key
        for key in fixes(weighed(brush_repairs(9, 9)), machine=brushless)
        if "brushes" in key[0]
    ]


# --- minutes, cost, and how long it held


def test_minutes_are_the_reported_ones_from_three_reports_on() -> None:
    written = minutes_of(BRUSHES, (), ENGINE.knowledge)
    assert minutes_of(BRUSHES, (5, 6), ENGINE.knowledge) == written
    assert minutes_of(BRUSHES, (5, 6, 90), ENGINE.knowledge) == 6.0
    assert minutes_of(("brushes", "rewind"), (30,), ENGINE.knowledge) == 30.0
    assert minutes_of(("brushes", "rewind"), (), ENGINE.knowledge) is None


def test_the_best_five_reports_are_named() -> None:
    cases = [(case, 1 - i / 10) for i, case in enumerate(brush_repairs(7, 7))]
    shown = fixes(cases)[BRUSHES]
    assert shown.reports == tuple(case.id for case, _ in cases[:5])


def followed(months: int, state: str, number: int) -> Case:
    return make_case(group=number, followups=(Seen(months, state),))


def test_silence_is_no_success() -> None:
    cases = [followed(14, "holding", i) for i in range(8)] + [followed(5, "returned", 9)]
    shown = fixes(weighed([*cases, *(make_case(group=20 + i) for i in range(11))]))[BRUSHES]
    held = shown.holding_12_months
    assert held is not None
    assert held.followed == 9
    assert held.share == pytest.approx(8 / 9, abs=1e-4)
    assert "11 others never heard from" in held.says


def test_no_share_from_fewer_than_five_followed() -> None:
    shown = fixes(weighed([followed(14, "holding", i) for i in range(4)]))[BRUSHES]
    assert shown.holding_12_months is not None
    assert shown.holding_12_months.share is None


def test_what_never_cured_holds_nothing() -> None:
    failed = make_case(causes=("avr/failed",), attempts=(make_attempt(result="no-change"),))
    assert fixes(weighed([failed]))[BRUSHES].holding_12_months is None


def test_a_remedy_is_offered_only_where_it_can_be_done(engine: Engine) -> None:
    """Fins are cleaned; there is nothing to flush or to recore on an air-cooled set."""
    for cooling, offered in (("air", False), ("liquid", True)):
        question = {
            "machine": {"fuel": "diesel", "cooling": cooling},
            "symptoms": ["overheats"],
            "limit": 50,
        }
        answer = asked(engine, question)
        fixes = {(f.component, f.action) for f in answer.fixes}
        steps = {(s.component, s.action) for s in answer.plan}
        assert ("radiator", "clean") in fixes
        for action in ("flush", "replace"):
            assert (("radiator", action) in fixes) is offered
            assert offered or ("radiator", action) not in steps


def test_a_get_by_of_another_trouble_is_not_shown(engine: Engine) -> None:
    held = [
        make_case(
            group=number,
            symptoms=(symptom,),
            terms=(f"s:{symptom}", "k:fuel=diesel"),
            attempts=(make_attempt("temperature-switch", "bypass", "fixed"),),
            outcome="get-by",
        )
        for number, symptom in enumerate(("overheats", "battery-not-charging"), start=1)
    ]
    question = {"machine": {"fuel": "diesel"}, "symptoms": ["overheats"], "get_by": True}
    (shown,) = asked(engine, question, held).get_bys
    assert (shown.component, shown.tried) == ("temperature-switch", 1)
