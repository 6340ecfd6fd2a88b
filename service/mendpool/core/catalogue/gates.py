"""What comes before any plan, whatever it costs in time: `gates.yaml`."""

from mendpool.core.catalogue.model import Code, Confidence, Entry, SetKind


class Gate(Entry):
    """Something to make safe first.

    Args:
        symptoms: any of these, understood with some sureness, calls for it.
        dangers: caution topics that a reading shows at once and that call for it too.
        only: sets it is about; where several gates share a symptom, the one that fits.
        says, how: what to do, short and in full.
        no_get_bys: while it stands, no way of running on is shown.
    """

    code: Code
    symptoms: tuple[Code, ...] = ()
    dangers: tuple[Code, ...] = ()
    only: SetKind = SetKind()
    says: str
    how: str
    cautions: tuple[Code, ...] = ()
    no_get_bys: bool = False
    source: str
    confidence: Confidence
