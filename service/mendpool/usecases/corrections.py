"""Words that were put back: from members who say so, for the stewards' eyes."""

from collections.abc import Sequence

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.record.correction import Corrections
from mendpool.core.text.reader import trade_words
from mendpool.store.corrections import Correction, Counted
from mendpool.store.pool_store import PoolStore
from mendpool.store.values import Member

OF_A_MEMBER_MOST = 500


def keep_corrections(store: PoolStore, member: Member, told: Corrections) -> list[Correction]:
    """Keep words that a member put back; return all of this member's.

    Raises:
        TooManyOf: the member has too many.
    """
    words = [(one.word, one.kind) for one in told.words]
    return store.keep_corrections(member.id, words, OF_A_MEMBER_MOST)


def words_to_look_at(
    store: PoolStore, catalogue: Catalogue, *, everything: bool
) -> Sequence[Counted]:
    """Return the words that members put back, those of most people first.

    Args:
        everything: those too that the catalogue knows by now.
    """
    known = set() if everything else {*trade_words(catalogue), *catalogue.nobodys_words}
    return [one for one in store.corrections() if one.word not in known]
