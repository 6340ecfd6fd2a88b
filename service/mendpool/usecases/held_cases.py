"""From a stored case to the case that a fit learns from."""

import json

from mendpool.core.evidence.case import Case, case_from_text, months_later
from mendpool.store.values import HeldCase


def case_of(held: HeldCase) -> Case:
    """Return a stored case with its contributor and what was seen later, by month."""
    case = case_from_text(held.case_body, group=held.group, vouched=held.vouched)
    if not held.followups:
        return case
    bodies = [json.loads(followup) for followup in held.followups]
    seen = sorted(
        months_later(case.happened, body["happened"], body["state"]) for body in bodies
    )
    return case._replace(followups=tuple(seen))
