"""The one place where figures are rounded, so that every copy gives the same bytes."""


def share(value: float) -> float:
    """Round a share (0 to 1) to four places."""
    return round(value, 4) + 0.0


def minutes(value: float) -> float:
    """Round minutes to a tenth."""
    return round(value, 1) + 0.0


def whole_percent(value: float) -> int:
    """Round a share to a whole per cent, halves up."""
    return int(value * 100 + 0.5)
