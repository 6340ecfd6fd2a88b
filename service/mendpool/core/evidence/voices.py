"""What each report of a ledger counts for."""

import numpy as np

from mendpool.core.evidence.bayes import Array
from mendpool.core.evidence.copies import sizes_of_groups
from mendpool.core.evidence.reports import Reports
from mendpool.core.evidence.weights import NEW_ACCOUNT, SAME_PERSON


def weights_of(reports: Reports) -> Array:
    """Return one over the copies there are of it, times contributor and account factors.

    The contributor factor works on what one person says of one part: a hundred reports that
    the same part was at fault are worth three, in whatever words; thirty repairs of thirty
    parts are thirty.
    """
    account = np.where(reports.new, NEW_ACCOUNT, 1.0)
    key = (reports.person << 32) | reports.said
    _, number, times = np.unique(key, return_inverse=True, return_counts=True)
    # As `weights.contributor_factor`, of many at once.
    factor = 1.0 / (1.0 + (times - 1.0) * SAME_PERSON)
    return np.asarray(account / sizes_of_groups(reports) * factor[number])
