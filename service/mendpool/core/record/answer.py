"""What an answer holds, as the wire carries it. Shares are 0 to 1, times are minutes."""

from pydantic import BaseModel, ConfigDict, Field

from mendpool.core.record.reading import Judged


class Part(BaseModel):
    """A piece of an answer: frozen, made by mendpool itself."""

    model_config = ConfigDict(frozen=True, defer_build=True)


class CautionShown(Part):
    """A warning: its topic's code, the words, and who says so.

    `of_steps` is there, and true, where only steps of the plan call for it: who is led step by
    step may be told it with those. All others hold for the whole and are told at once.
    """

    code: str
    says: str
    source: str
    of_steps: bool | None = None


class SymptomFound(Part):
    """A symptom as understood, where it came from, and how sure the reading of it is."""

    code: str
    from_: str = Field(serialization_alias="from")
    confidence: float


class PatternShown(Part):
    """What several readings say together; `readings` are their places in what was given."""

    code: str
    says: str
    readings: tuple[int, ...]
    cautions: tuple[str, ...]
    source: str


class Factor(Part):
    """One piece of evidence and how many times likelier it makes the cause."""

    of: str
    times: float


class CauseShown(Part):
    """A possible cause. No component means "something else"."""

    component: str | None
    failure: str | None
    probability: float
    catalogue_share: float
    factors: tuple[Factor, ...] = ()
    says: str


class Holding(Part):
    """Share of followed repairs still holding at 12 months, with its 90 % range."""

    share: float | None
    low: float | None
    high: float | None
    followed: int
    says: str


class FixShown(Part):
    """A fix with plain counts, people, range and the chance that it cures this fault."""

    component: str
    action: str
    tried: int
    fixed: int
    people: int
    cured: int
    repairs: int
    worth: float
    rate: float | None
    low: float | None
    high: float | None
    chance: float
    holding_12_months: Holding | None
    minutes: float | None
    cost: float | None
    reports: tuple[str, ...]
    says: str


class GetBy(Part):
    """A way to run for now, with its risk, its limit and how to undo it. Never a fix.

    `time_limit` says how long at most, and under what watch; `restore` what puts it back and
    proves it.
    """

    component: str
    action: str
    worked: int
    tried: int
    people: int
    protection_defeated: bool
    risk: str
    time_limit: str
    restore: str


class Step(Part):
    """One step of the plan: ``safe``, ``test``, ``fix``, ``prove`` or ``call``.

    `saves` is how many expected minutes the test is worth; `chance` that the fix cures.
    `wait` is the minutes that fetching a part not at hand counts for, besides `minutes`;
    `opens` the cover that has to come off; `or_else` the runner-up in words.
    """

    do: str
    check: str | None = None
    component: str | None = None
    action: str | None = None
    how: str | None = None
    expect: str | None = None
    results: tuple[tuple[str, str], ...] = ()
    minutes: float | None = None
    saves: float | None = None
    chance: float | None = None
    cautions: tuple[str, ...] = ()
    source: str | None = None
    wait: float | None = None
    opens: str | None = None
    or_else: str | None = None
    says: str


class Flag(Part):
    """Something about the answer itself that a person should know before he leans on it."""

    code: str
    says: str


class Similar(Part):
    """A past report like this one, why, and how it ended.

    `cautions` are there where it holds advice that could kill whoever copies it.
    """

    report: str
    similarity: float
    because: tuple[str, ...]
    outcome: str
    cause: str | None = None
    cautions: tuple[CautionShown, ...] = ()


class Evidence(Part):
    """How much the answer rests on.

    `first_fix_without_one` is the least and the most that the chance of the first fix comes
    to when the reports of any one member are left out.
    """

    reports_searched: int
    similar: int
    contributors: int
    from_catalogue_only: bool
    first_fix_without_one: tuple[float, float] | None = None
    catalogue: str
    fit: str | None


class Answer(Part):
    """The whole answer to a question, in the order a person should read it."""

    cautions: tuple[CautionShown, ...]
    symptoms: tuple[SymptomFound, ...]
    not_symptoms: tuple[str, ...]
    readings: tuple[Judged, ...]
    together: tuple[PatternShown, ...]
    understood: dict[str, object]
    causes: tuple[CauseShown, ...]
    fixes: tuple[FixShown, ...]
    get_bys: tuple[GetBy, ...]
    plan: tuple[Step, ...]
    expected_minutes: float
    similar: tuple[Similar, ...]
    evidence: Evidence
    flags: tuple[Flag, ...] = ()
