"""Puts what was done, to which part, and what came of it together, clause by clause."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from mendpool.core.text.attempts import Attempted, AttemptWords, Span
from mendpool.core.text.clauses import ENDS, Clause, Spoken, clauses
from mendpool.core.text.phrases import Match
from mendpool.core.text.words import BREAK, NOT

_NEAR = 4
"""Words that may stand between an action and its part, or a part and what is said of it."""
_LIST = frozenset({"and", "or", "a", "an", "the", "my", "its", "both", "also", "all", "plus"})
_JOINS = frozenset({"and", "or", "plus"})
_LEADS_TO = frozenset({"after", "with", "even", "from", "by", "despite"})
_GOES_ON = ENDS - {"because", "so", "then"}
_NO_MORE = frozenset({"until", "till", "before", "yesterday", "last", "used", "once", "if"})
_ENDS_A_PRAISE = frozenset(
    {"and", "but", "so", "or", "too", "now", "still", "at", "as", "with"}
)
_GOOD = ("found-good", "fixed")
_BAD = ("no-change", "worse")
_TEST, _BYPASS = "test", "bypass"


@dataclass(slots=True)
class _Done:
    """Something done, its parts, and whether "already" says that it did not help."""

    action: str
    place: int
    already: bool = False
    parts: list[Span] = field(default_factory=list)


def tried_in(
    text: Spoken,
    words: AttemptWords,
    parts: list[Span],
    failures: Sequence[Match],
    troubles: frozenset[int],
) -> tuple[Attempted, ...]:
    """Return what was tried, in the order told, each part and action once.

    Args:
        text: the complaint.
        words: how people say it.
        parts: where parts are named, short names too.
        failures: where ways of failing are named.
        troubles: the places of symptoms said to be there.
    """
    actions = words.actions(text, parts)
    if not parts and not any(action.code in words.alone for action in actions):
        return ()
    search = _Search(text, words, parts, actions, failures, troubles)
    found: dict[tuple[str, str], Attempted] = {}
    for attempt in search.attempts():
        found[attempt.component, attempt.action] = attempt
    return tuple(found.values())


class _Search:
    def __init__(
        self,
        text: Spoken,
        words: AttemptWords,
        parts: list[Span],
        actions: list[Span],
        failures: Sequence[Match],
        troubles: frozenset[int],
    ) -> None:
        self.text, self.words = text, words
        self.parts, self.actions = parts, actions
        self.failures, self.troubles = failures, troubles
        self.results = words.results(text)
        self.pending: list[_Done] = []
        self.last: _Done | None = None
        self.early: Span | None = None
        self.mentioned: Span | None = None
        self.sentence = 0

    def attempts(self) -> Iterator[Attempted]:
        for clause in clauses(self.text):
            if clause.sentence > self.sentence + 1:
                self.pending = []
            yield from self._clause(clause)
        yield from self._resolved("no-change", [d for d in self.pending if d.already])
        bypasses = [d for d in self.pending if d.action == _BYPASS]
        yield from self._resolved("could-not-tell", bypasses)

    def _clause(self, clause: Clause) -> Iterator[Attempted]:
        waiting = bool(self.pending)
        done = self._done(clause)
        results = [r for r in self.results if clause.holds(r.first)] + self._still(clause)
        events: list[tuple[int, int, _Done | Span]] = [(d.place, 0, d) for d in done]
        events += [(result.first, 1, result) for result in results]
        self.early, used = None, -1
        events.sort(key=lambda e: (e[0], e[1], isinstance(e[2], Span) and not e[2].weak))
        for place, _, event in events:
            if isinstance(event, _Done):
                yield from self._begun(event, clause)
            elif place > used:
                used = event.last
                yield from self._came(event, clause)
        trouble = not self.troubles.isdisjoint(range(clause.first, clause.end))
        if waiting and clause.opened in _GOES_ON and trouble and not done:
            yield from self._settle("no-change")
        yield from self._found_bad(clause)

    def _begun(self, done: _Done, clause: Clause) -> Iterator[Attempted]:
        """Something done; its result may have been told before it: same after a new plug."""
        self.pending.append(done)
        self.last, self.sentence = done, clause.sentence
        if self.early is not None and self._leads(self.early, done):
            yield from self._settle(self.early.code)
            self.early = None

    def _came(self, result: Span, clause: Clause) -> Iterator[Attempted]:
        """A result: of a part that is named right before it, else of all that was done."""
        looks = self._praised(result, clause)
        if looks:
            yield from looks
        elif self.pending and result.weak and self._since_then(result):
            self.pending = []
        elif self.pending:
            yield from self._settle(result.code)
        elif result.code in (*_BAD, "improved"):
            self.early = result

    def _settle(self, code: str) -> Iterator[Attempted]:
        """What came of all that was done since the last result."""
        if code in ("found-good", "found-bad"):
            tests = [d for d in self.pending if d.action == _TEST]
            yield from self._resolved(code, tests)
            self.pending = [d for d in self.pending if d.action != _TEST]
            return
        yield from self._resolved(code, self.pending)
        self.pending = []

    def _resolved(self, code: str, done: Sequence[_Done]) -> Iterator[Attempted]:
        for one in done:
            result = "found-good" if one.action == _TEST and code == "fixed" else code
            if one.action == _TEST and result not in ("found-good", "found-bad"):
                continue
            # Who asks is not cured, but a protection that was got round must be known.
            if result in ("fixed", "could-not-tell") and one.action != _BYPASS:
                continue
            for part in one.parts:
                yield Attempted(part.code, one.action, result)

    def _found_bad(self, clause: Clause) -> Iterator[Attempted]:
        """A part that was tested, and a way of failing in the same clause."""
        bad = any(
            not f.negated and clause.first <= f.places[0] < clause.end for f in self.failures
        )
        tests = [d for d in self.pending if d.action == _TEST and d.place >= clause.first]
        if bad and tests:
            yield from self._resolved("found-bad", tests)
            self.pending = [d for d in self.pending if d not in tests]

    def _since_then(self, result: Span) -> bool:
        """Changed the filter and now it runs ten seconds: the trouble came with it."""
        return "now" in self.text.between(self.pending[-1].place, result.first)

    def _still(self, clause: Clause) -> list[Span]:
        run, words = self.text.run, self.words
        return [
            Span("no-change", place, place)
            for place in range(clause.first, clause.end)
            if run[place] in words.still
            and (place + 1 >= len(run) or run[place + 1] not in words.not_still)
        ]

    def _leads(self, result: Span, done: _Done) -> bool:
        first = min([done.place, *(part.first for part in done.parts)])
        return first > result.last and not _LEADS_TO.isdisjoint(
            self.text.plain[self.text.at[result.first] : self.text.at[first]]
        )

    # --- what was done in it, and to what

    def _done(self, clause: Clause) -> list[_Done]:
        actions = [a for a in self.actions if clause.holds(a.first)]
        parts = [p for p in self.parts if clause.holds(p.first)]
        told = any(clause.holds(r.first) for r in self.results)
        done: list[_Done] = []
        if told or clause.closed != BREAK + "?":
            pairs = self._pairs(actions, parts) if actions else []
            done = [d for action, owned in pairs if (d := self._deed(action, owned, clause))]
            done += self._renewed(parts, {p for _, owned in pairs for p in owned}, clause)
        if not actions and not done:
            self._list_goes_on(parts, clause)
        if parts:
            self.mentioned = parts[-1]
        return done

    def _deed(self, action: Span, owned: list[Span], clause: Clause) -> _Done | None:
        """An action with its parts; None where it was not done, or there is no part."""
        words = self.words
        if self._is_none(action, max([action.first, *(p.first for p in owned)]), clause):
            return None
        if not owned and self.mentioned is not None and self._it(action):
            owned = [self.mentioned]
        elif not owned and action.code in words.alone and not action.weak:
            owned = [Span(words.alone[action.code], action.first, action.last)]
        outright = action.weak or words.began(self.text, clause.start, action.first)
        already = not outright and self._already(action.first, clause)
        return _Done(action.code, action.first, already, owned) if owned else None

    def _already(self, place: int, clause: Clause) -> bool:
        lead = self.text.plain[clause.start : self.text.at[place]]
        return not self.words.already.isdisjoint(lead)

    def _it(self, action: Span) -> bool:
        after = self.text.at[action.last] + 1
        return self.text.plain[after : after + 1] in (["it"], ["them"])

    def _is_none(self, action: Span, reach: int, clause: Clause) -> bool:
        words, text = self.words, self.text
        return words.not_done(text, clause.start, reach) or words.denied(text, action.first)

    def _pairs(
        self, actions: Sequence[Span], parts: Sequence[Span]
    ) -> list[tuple[Span, list[Span]]]:
        """Each action with its parts, which all come after them or all come before."""
        parts = [p for p in parts if not p.only or any(a.code in p.only for a in actions)]
        before = bool(parts) and parts[0].last < actions[0].first
        before = before and parts[-1].first < actions[-1].first
        pairs = []
        for number, action in enumerate(actions):
            if before:
                since = actions[number - 1].last if number else -1
                mine = [p for p in parts if since < p.first and p.last < action.first]
                pairs.append((action, self._chain(action, mine[::-1], back=True)))
            else:
                until = actions[number + 1].first if number + 1 < len(actions) else 10**9
                mine = [p for p in parts if action.first <= p.last and p.first < until]
                pairs.append((action, self._chain(action, mine, back=False)))
        return pairs

    def _chain(self, action: Span, parts: Sequence[Span], *, back: bool) -> list[Span]:
        """The part that is near, and those that a list adds to it."""
        owned: list[Span] = []
        for part in parts:
            if part.only and action.code not in part.only:
                continue
            if not owned:
                gap = action.first - part.last if back else part.first - action.last
                if gap - 1 > _NEAR or self._crossed(action, part):
                    break
            elif not self._listed(*((part, owned[-1]) if back else (owned[-1], part))):
                break
            owned.append(part)
        return owned

    def _crossed(self, action: Span, part: Span) -> bool:
        first, last = sorted((action, part), key=lambda span: span.first)
        return NOT in self.text.run[first.last + 1 : last.first]

    def _listed(self, one: Span, other: Span) -> bool:
        between = self.text.between(one.last, other.first)
        if other.weak and _JOINS.isdisjoint(between):
            return False
        return all(word in _LIST or word in self.words.renewed for word in between)

    def _renewed(
        self, parts: Sequence[Span], used: set[Span], clause: Clause
    ) -> Iterator[_Done]:
        """A part that is called new was replaced."""
        run, words = self.text.run, self.words
        for part in parts:
            if part in used or (part.only and words.renewing not in part.only):
                continue
            places = range(max(clause.first, part.first - 1), part.last + 1)
            first = next((p for p in places if run[p] in words.renewed), None)
            if first is None:
                continue
            action = Span(words.renewing, first, part.last)
            if not self._is_none(action, first, clause):
                already = self._already(first, clause)
                yield _Done(words.renewing, part.first, already, [part])

    def _list_goes_on(self, parts: Sequence[Span], clause: Clause) -> None:
        """Changed plug, filter, coil: what was done to the first was done to all."""
        if self.last is None or self.last not in self.pending or not parts:
            return
        if clause.opened not in (BREAK + ",", BREAK + "\n") or parts[0].first != clause.first:
            return
        chain = [parts[0]]
        for part in parts[1:]:
            if not self._listed(chain[-1], part):
                break
            chain.append(part)
        after = chain[-1].last + 1
        result = next((r for r in self.results if r.first == after), None)
        ends = after >= clause.end or self.text.run[after] in self.words.still
        if ends or (result is not None and result.code not in _GOOD):
            self.last.parts += [p for p in chain if not p.only or self.last.action in p.only]

    # --- a part that is said to be good

    def _praised(self, result: Span, clause: Clause) -> list[Attempted]:
        if result.code not in _GOOD or clause.closed == BREAK + "?":
            return []
        after = self.text.plain[self.text.at[result.last] + 1 :][:2]
        if not _NO_MORE.isdisjoint(after) or not self._ends_there(result):
            return []
        owned = {part for done in self.pending for part in done.parts}
        before = [p for p in self.parts if clause.holds(p.first) and p.last < result.first]
        if not before or before[-1] in owned or before[-1].only:
            return []
        part = before[-1]
        between = self.text.run[part.last + 1 : result.first]
        busy = any(part.last < a.first < result.first and a.code != _TEST for a in self.actions)
        done = any(
            a.first <= result.last and a.last >= result.first and a.code != _TEST
            for a in self.actions
        )
        if len(between) > _NEAR - 1 or NOT in between or busy or done:
            return []
        if self.words.not_done(self.text, clause.start, part.first):
            return []
        chain = [part]
        for other in before[-2::-1]:
            if not self._listed(other, chain[-1]) or other in owned or other.only:
                break
            chain.append(other)
        return [Attempted(p.code, _TEST, "found-good") for p in chain[::-1]]

    def _ends_there(self, result: Span) -> bool:
        """Whether "good" is said of what stands before it, and not of a word after it."""
        run = self.text.run
        place = result.last + 1
        if result.first != result.last or place >= len(run):
            return True
        follows = self.text.between(result.last, place)
        word = run[place]
        return (
            word in (BREAK, NOT)
            or word in ENDS
            or word in _ENDS_A_PRAISE
            or bool(follows)
            or word.isdigit()
            or run[result.last] != "good"
            or any(p.first == place for p in self.parts)
        )
