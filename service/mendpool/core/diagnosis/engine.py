"""The engine: understands a question or a report, and answers. Make one and keep it."""

from collections.abc import Mapping, Sequence
from copy import copy
from functools import lru_cache

import numpy as np

from mendpool.core.catalogue.admits import admits
from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.caution_texts import advice_shown
from mendpool.core.diagnosis.beliefs import Beliefs, believe
from mendpool.core.diagnosis.cautions import Situation, cautions_for
from mendpool.core.diagnosis.cures import chances
from mendpool.core.diagnosis.doubt import doubt
from mendpool.core.diagnosis.expected import expectations
from mendpool.core.diagnosis.facts import Facts, terms_of
from mendpool.core.diagnosis.fixes import minutes_reported, shown_fixes, tallies
from mendpool.core.diagnosis.gates import gates_for
from mendpool.core.diagnosis.get_bys import same_trouble, shown_get_bys
from mendpool.core.diagnosis.healthy import with_good_ones
from mendpool.core.diagnosis.knowledge import Knowledge
from mendpool.core.diagnosis.likeness import Liker, Weights
from mendpool.core.diagnosis.plan import Plan, make_plan
from mendpool.core.diagnosis.result_rates import ResultRates
from mendpool.core.diagnosis.shown import bare, pattern_shown
from mendpool.core.diagnosis.spoken import Spoken
from mendpool.core.diagnosis.understand import Said, Understanding, understand_all
from mendpool.core.diagnosis.word_rates import WordRates
from mendpool.core.evidence import figures
from mendpool.core.evidence.attempts import tries_of
from mendpool.core.evidence.candidates import Candidates
from mendpool.core.evidence.case import Case
from mendpool.core.evidence.firsts import firsts
from mendpool.core.evidence.fit import EMPTY_FIT, Fit
from mendpool.core.evidence.getting_by import only_gets_by
from mendpool.core.evidence.weights import weigh
from mendpool.core.record.answer import (
    Answer,
    CauseShown,
    CautionShown,
    Evidence,
    Factor,
    GetBy,
    Similar,
    SymptomFound,
)
from mendpool.core.record.report import Question
from mendpool.core.text.reader import Reader

LIKE_ENOUGH = 0.15
_CAUSES_LEAST, _CAUSES_MASS = 10, 0.95
_NOTHING = 1e-5
_FACTORS = 6


class Engine:
    """One catalogue and one fit, ready to answer."""

    def __init__(
        self,
        catalogue: Catalogue,
        fit: Fit = EMPTY_FIT,
        prepared: tuple[Reader, Spoken] | None = None,
    ) -> None:
        """Make an engine.

        Args:
            prepared: the catalogue's words as `plain_reader` and `spoken` of another engine
                of the same catalogue hold them; making them is most of the work.
        """
        self.catalogue = catalogue
        self.fit = fit
        self.knowledge = Knowledge(catalogue)
        self.expectations = expectations(self.knowledge)
        self.plain_reader = Reader(catalogue) if prepared is None else prepared[0]
        self.reader = self.plain_reader.knowing(fit.words)
        self.weights = Weights(fit)
        spoken = Spoken(self.knowledge, self.plain_reader) if prepared is None else prepared[1]
        self.word_rates = WordRates(self.knowledge, fit, spoken)
        self.result_rates = ResultRates(self.knowledge, fit)

    def with_fit(self, fit: Fit) -> "Engine":
        """Return an engine with another fit that shares this one's arrays."""
        other = copy(self)
        other.fit = fit
        other.reader = self.plain_reader.knowing(fit.words)
        other.weights = Weights(fit)
        other.word_rates = WordRates(self.knowledge, fit, self.word_rates.spoken)
        other.result_rates = ResultRates(self.knowledge, fit)
        return other

    def understand(self, question: Question) -> Understanding:
        """Return what a question says.

        Raises:
            RefusedInput: for readings that can't be understood.
        """
        said = Said(
            machine=question.machine,
            complaint=question.complaint,
            symptoms=question.symptoms,
            readings=question.readings,
            observations=question.observations,
            tried=question.tried,
            before=question.before,
            at_hand=question.at_hand,
        )
        return understand_all(said, self.reader, self.knowledge)

    def search_terms(self, understood: Understanding) -> dict[str, int]:
        """Return the terms to search past reports by, with their integer weights."""
        usual = self.fit.usual_weight
        return {t: self.fit.weights.get(t, usual) for t in terms_of(understood.facts)}

    def answer(
        self,
        question: Question,
        understood: Understanding,
        candidates: Sequence[Case],
        reports_searched: int,
        fit_name: str | None = None,
    ) -> Answer:
        """Return the answer, a function of its arguments, the catalogue and the fit alone.

        Args:
            question: as asked.
            understood: what it says.
            candidates: past cases worth comparing, in any order.
            reports_searched: how many reports the candidates were chosen from.
            fit_name: what names the fit in the answer.
        """
        facts, norms = understood.facts, self.fit.norms
        liker = Liker(facts, self.weights)
        held = Candidates.of(candidates)
        alike, scores = _alike(liker, held)
        # Near-duplicates share one slot; the most alike stands for its group.
        standing = firsts(held, alike)
        slots = held.without_terms(standing)
        like = {case.id: scores[place] for case, place in zip(slots, standing, strict=True)}
        weights = weigh(slots, like)
        cases = [(case, weights[case.id]) for case in slots]
        beliefs = believe(facts, self.knowledge, self.result_rates, self.word_rates, cases)
        tries = tries_of(cases, frozenset(self.catalogue.sets.protections))
        cures = chances(beliefs, self.knowledge, tries, facts.machine)
        counted = tallies(tries)
        reported = {fix: minutes_reported(tries) for fix, tries in counted.items()}
        gates = gates_for(self.catalogue, facts, understood.dangers)
        plan = make_plan(
            facts, beliefs, self.knowledge, cures, reported, gates, question.must_run
        )
        doubts = doubt(
            beliefs,
            cures,
            self.knowledge,
            self.fit,
            lambda: chances(
                beliefs,
                self.knowledge,
                [one for one in tries if one.case.vouched],
                facts.machine,
            ),
        )
        get_bys: tuple[GetBy, ...] = ()
        wanted = question.get_by or plan.last_resort
        if wanted and not any(gate.no_get_bys for gate in gates):
            same = same_trouble(cases, facts)
            get_bys = shown_get_bys(same, self.catalogue, self._components(facts))
        return Answer(
            cautions=self._cautions(understood, plan),
            symptoms=tuple(
                SymptomFound(
                    code=code, from_=understood.origin[code], confidence=round(sure, 2)
                )
                for code, sure in facts.symptoms.items()
            ),
            not_symptoms=facts.absent,
            readings=tuple(
                bare(with_good_ones(j.judged, facts.machine, self.catalogue, (), norms))
                for j in understood.judged
            ),
            together=tuple(pattern_shown(pattern) for pattern in understood.patterns),
            understood={
                "mended": dict(understood.read.mended),
                "components": list(facts.components),
                "before": list(facts.before),
                "tried": [
                    f"{a.component} {a.action}: {a.result}" for a in understood.read.tried
                ],
                "observations": dict(sorted((facts.found or {}).items())),
                "kinds": {k: figures.share(p) for k, p in beliefs.kinds.items()},
            },
            causes=self._causes(beliefs),
            fixes=shown_fixes(
                beliefs=beliefs,
                knowledge=self.knowledge,
                fit=self.fit,
                cases=cases,
                counted=counted,
                cures=cures,
                kind=facts.kind,
                limit=question.limit,
            ),
            get_bys=get_bys,
            plan=plan.steps,
            expected_minutes=plan.expected,
            similar=self._similar(
                liker,
                held.with_terms(slots[: question.limit], standing[: question.limit]),
                like,
            ),
            evidence=Evidence(
                reports_searched=reports_searched,
                similar=len(slots),
                contributors=len({case.group for case in slots}),
                from_catalogue_only=not slots,
                first_fix_without_one=doubts.first_fix,
                catalogue=self.catalogue.version,
                fit=fit_name,
            ),
            flags=(*plan.flags, *doubts.flags),
        )

    def _similar(
        self, liker: Liker, shown: Sequence[Case], like: Mapping[str, float]
    ) -> tuple[Similar, ...]:
        return tuple(
            Similar(
                report=case.id,
                similarity=like[case.id],
                because=liker.because(case),
                outcome=case.outcome,
                cause=case.causes[0] if case.causes else None,
                **advice_shown(self.catalogue, case.advice),
            )
            for case in shown
        )

    def _components(self, facts: Facts) -> frozenset[str]:
        return frozenset(
            code
            for code, component in self.catalogue.components.items()
            if admits(component.only, facts.machine)
        )

    def _causes(self, beliefs: Beliefs) -> tuple[CauseShown, ...]:
        """At least ten causes or 95 % of the mass, with "something else" in its place."""
        probabilities = beliefs.probability.tolist()
        # What rounds to nothing is most of it, and need not be rounded to be known so.
        shares = [figures.share(p) if p > _NOTHING else 0.0 for p in probabilities]
        rows = np.lexsort((self.knowledge.rank, -np.array(shares))).tolist()
        shown: list[int] = []
        mass = 0.0
        for row in rows:
            if len(shown) >= _CAUSES_LEAST and mass >= _CAUSES_MASS:
                break
            if probabilities[row] < 0.0005 and row != rows[-1]:
                continue
            mass += probabilities[row]
            shown.append(row)
        if (other := len(shares) - 1) not in shown:
            shown.append(other)
        factors = beliefs.factors(shown)
        return tuple(
            [
                self._cause(row, shares[row], float(beliefs.catalogue_share[row]), told)
                for row, told in zip(shown, factors, strict=True)
            ]
        )

    def _cause(
        self,
        row: int,
        probability: float,
        catalogue_share: float,
        factors: Sequence[tuple[str, float]],
    ) -> CauseShown:
        other = row == len(self.knowledge.keys)
        cause = None if other else self.knowledge.causes[row]
        label = "something else"
        if cause is not None:
            vocabulary = self.catalogue.vocabulary
            component = vocabulary.components[cause.component]
            label = f"{component}: {vocabulary.failure_modes[cause.failure]}"
        return CauseShown(
            component=cause.component if cause else None,
            failure=cause.failure if cause else None,
            probability=probability,
            catalogue_share=figures.share(catalogue_share),
            factors=tuple([_factor(of, times) for of, times in factors[:_FACTORS]]),
            says=label,
        )

    def _cautions(self, understood: Understanding, plan: Plan) -> tuple[CautionShown, ...]:
        facts = understood.facts
        protections = self.catalogue.sets.protections
        defeated = any(only_gets_by(a.component, a.action, protections) for a in facts.tried)
        return cautions_for(
            self.catalogue,
            Situation(
                machine=facts.machine,
                symptoms=frozenset(facts.symptoms),
                readings=readings_for_cautions(understood),
                worded=frozenset(understood.read.cautions),
                topics=plan.safe | understood.topics,
                dangers=frozenset(understood.dangers),
                protection_defeated=defeated,
                steps=plan.soon,
            ),
        )


@lru_cache(maxsize=4096)
def _factor(of: str, times: float) -> Factor:
    """A factor; the same one stands beside many causes, and in many answers."""
    return Factor(of=of, times=times)


def readings_for_cautions(understood: Understanding) -> frozenset[str]:
    """Return the judged readings as ``quantity@point:verdict``."""
    return frozenset(
        f"{j.judged.quantity}@{j.judged.point}:{j.judged.verdict}" for j in understood.judged
    )


def _alike(liker: Liker, held: Candidates) -> tuple[list[int], list[float]]:
    """Return the places of those that are like enough, the most alike first, and all scores."""
    scores = liker.scores(held)
    score = np.array(scores)
    order = np.lexsort((held.rank, -score))
    return order[((score >= LIKE_ENOUGH) & ~held.well)[order]].tolist(), scores
