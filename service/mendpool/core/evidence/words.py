"""How a count is said: counts first, then the range, never a bare percentage."""

from typing import NamedTuple

from mendpool.core.evidence.durability import HoldingAt
from mendpool.core.evidence.figures import whole_percent
from mendpool.core.evidence.intervals import wilson


def of_people(people: int) -> str:
    """Return "from 1 person" or "from N people"."""
    return "from 1 person" if people == 1 else f"from {people} people"


def in_ten(chance: float) -> str:
    """Return a chance as "about 4 in 10", never finer than it is known."""
    tenths = round(chance * 10)
    if tenths < 1:
        return "fewer than 1 in 10"
    return f"about {tenths} in 10" if tenths < 10 else "nearly 10 in 10"


class Counts(NamedTuple):
    """Plain counts of a fix: `cured` of `repairs` like the asker's; the rest are attempts."""

    worked: int
    tried: int
    people: int
    cured: int
    repairs: int


def fix_in_words(
    counts: Counts, span_of: tuple[float, float], chance: float, rate: float | None
) -> str:
    """Say how often a fix worked, by the table of few, some and enough reports.

    The range shown is the weighted one that the figures carry; with one or two reports no
    single percentage is given. Where the shrunk mean lies outside it, the words say what
    it leans on.

    Args:
        span_of: the range, low and high, shares.
        chance: that it cures this fault; said where no one has tried it.
        rate: the shrunk mean, if anyone has.
    """
    worked, tried, people, cured, repairs = counts
    low, high = span_of
    cure = f" It was the cure in {cured} of {repairs} repairs like yours." if repairs else ""
    if tried == 0:
        guess = in_ten(chance)
        return (
            "No one has reported trying this on a fault like yours. "
            f"The catalogue expects it to cure {guess}; that is a guess.{cure}"
        )
    span = f"{whole_percent(low)} to {whole_percent(high)} %"
    if tried == 1:
        how = "it worked" if worked else "it did not work"
        return (
            f"Tried once, {how}. One report proves little: could be anywhere from {span}.{cure}"
        )
    if tried == 2:
        return f"Worked {worked} of 2 times, {of_people(people)}; 90 % range {span}.{cure}"
    percent = whole_percent(worked / tried)
    said = f"Worked {worked} of the {tried} times it was tried ({percent} %), "
    said += f"{of_people(people)}; 90 % range {span}."
    if rate is not None and not low <= rate <= high:
        said += f" Leaning on all its reports, {whole_percent(rate)} % is expected."
    return said + cure


def holding_in_words(at: HoldingAt | None, silent: int, longest: int) -> str:
    """Say how long a fix holds; no percentage from fewer than five followed repairs."""
    if at is None:
        return "No follow-ups yet."
    others = "1 other" if silent == 1 else f"{silent} others"
    never = f"; {others} never heard from" if silent else ""
    if at.followed == 1:
        months = "1 month" if longest == 1 else f"{longest} months"
        state = "came back" if at.came_back else f"still good after {months}"
        return f"1 repair followed: {state}{never}."
    if at.followed < 5 or at.seen_that_long < 3:
        kept = at.followed - at.came_back
        return f"{at.followed} followed: {kept} good, longest {longest} months{never}."
    if at.failed == 0:
        floor = whole_percent(wilson(at.seen_that_long, at.seen_that_long)[0])
        none = "none failed in the first 12 months" if at.came_back else "none failed"
        return f"{at.followed} followed, {none}; at least {floor} % hold{never}."
    return (
        f"Still holding at 12 months: {whole_percent(at.share)} % "
        f"({whole_percent(at.low)} to {whole_percent(at.high)}), {at.followed} repairs "
        "followed, "
        f"{at.failed} failed, {at.seen_that_long} seen that long{never}."
    )


def failing_in_words(
    reports: int, known: int, people: int, span_of: tuple[float, float]
) -> str:
    """Say how often something fails, of the repairs whose fault is known.

    Args:
        span_of: its share's range; no per cent is given from fewer than five repairs.
    """
    said = f"At fault in {reports} of {known} repairs, {of_people(people)}"
    if known < 5:
        return f"{said}; too few to say how common it is."
    return f"{said}; 90 % range {whole_percent(span_of[0])} to {whole_percent(span_of[1])} %."
