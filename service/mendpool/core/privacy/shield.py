"""Marks what belongs to the trade: part and bearing numbers, threads, ratings, grades."""

import re

Span = tuple[int, int]

# At most six digits in a row or with a space: from seven on it may be somebody's telephone.
_NUMBER = r"(?>\d{1,3}(?:,\d{3}){1,3}(?:\.\d{1,4})?|\d{1,3} \d{3}|\d{1,6}(?:[.,]\d{1,6})?)"
_UNIT = (
    r"(?:(?:[kmµu]?(?:va|watts?|w|volts?|v|amps?|amperes?|a|hz|pa|ohms?|ω|f|h|g|l|m|s|n)"
    r"|kvar|kwh|rpm|psi|m?bar|nm|n\.m|ncm|lb\.?-?ft|ft\.?-?lbs?|in\.?-?lbs?|mm2?|cm2?|cc|ci|km|"
    r"hrs?|hours?|mins?|minutes?|secs?|seconds?|days?|weeks?|months?|years?|yrs?|inch(?:es)?|in|"
    r"feet|foot|ft|yards?|miles?|mph|met(?:re|er)s?|lit(?:re|er)s?|gallons?|gal|qts?|ml|lbs?|oz|"
    r"tons?|tonnes?|thou|mil|degrees?|deg|°c|°f|celsius|fahrenheit|c|k|meg|mohms?|ah|mah|cca|awg|"
    r"swg|phase|ph|poles?|pins?|ways?|wires?|cyl(?:inder)?s?|teeth|turns?|strokes?|cycles?|times|"
    r"hp|ps|bhp|db|lpm|gpm|series)(?![a-z])|[%°\"”″Ω])"
)
_RANGE = r"(?: ?(?:-|to|–|or|/|\+-|±) ?" + _NUMBER + r")?[ -]?"
_KINDS = "name|phone|email|address|position|link|handle|number|day"

# A placeholder of an earlier pass.
_DONE = rf"\[(?:{_KINDS})\]"
# What stands behind "part no", "type", "ref": whatever it looks like.
_PART = (
    r"\b(?:part|p/n|pn|oem|item|ref|cat|catalogue|catalog|stock|spec|model|type|code|size)s?"
    r"\.?(?: ?(?:no|nr|num|numbers?|code))?\.?[:#]{0,2} ?"
    r"(?=[a-z/-]{0,8}\d)[a-z0-9][a-z0-9./-]{2,24}(?: \d{2,6}){0,3}"
)
# Oil, fuel, bolts and their grades.
_GRADE = (
    r"\b(?:sae|iso|vg|api|acea|nlgi|iec|din|grade|class) ?[a-z]{0,3}-?\d{1,5}"
    r"(?:[-.:]\d{1,4}){0,2}(?!\w)"
)
# Bearings and seals with their endings; metric threads; multigrade oils; a report's month.
_CODED = (
    r"(?<![\w-])(?=[a-z0-9])(?:[a-z]{0,4}\d{3,6}(?:(?:-[a-z0-9]{1,6}){1,3}"
    r"| ?(?:2rs\w{0,3}|2z|zz|rs|c3|llu|ddu))"
    r"|m\d{1,2}(?:\.\d)?(?: ?[x×] ?\d{1,3}(?:\.\d{1,2})?){0,2}"
    r"|\d{1,2}w[ -]?\d{2}|(?:19|20)\d{2}-(?:0[1-9]|1[0-2]))(?![-\w])"
)
# Fractions and inch threads, firing orders, times of the day.
_FRACTION = (
    r"(?<![\w/:.-])(?=\d)(?:(?:\d{1,2}[ -])?\d{1,2}/\d{1,3}(?:-\d{1,2})?|\d(?:-\d){2,7}"
    r"|\d{1,2}:\d{2}(?::\d{2})?)(?![\w/:-])"
)
_SIZE = r"(?<![\w.,-])\d{1,5}(?:[.,]\d{1,3})?(?: ?[x×*] ?\d{1,4}(?:[.,]\d{1,3})?){1,3}(?!\d)"
_ROW = r"(?<![\w.,+/-])\d{1,5}[.,]\d{1,3}(?:[,;/ ]{1,2}\d{1,5}[.,]\d{1,3}){1,12}(?!\w)"
# A figure with its unit; not the tail of a longer run of digits.
_RATING = r"(?<![\w.,+/-])(?<!\d )" + _NUMBER + _RANGE + _UNIT

_TRADE = tuple(
    re.compile(pattern, re.IGNORECASE)
    for pattern in (_DONE, _PART, _GRADE, _CODED, _FRACTION, _SIZE, _ROW, _RATING)
)


_FIGURE = re.compile("[0-9]")


def has_figures(text: str) -> bool:
    """Say whether any character is a digit, in whatever script."""
    if text.isascii():
        return _FIGURE.search(text) is not None
    return any(c.isdigit() for c in text)


def trade_spans(text: str) -> list[Span]:
    """Return the places of what belongs to the trade; they may overlap."""
    if "[" not in text and not has_figures(text):
        return []
    return [match.span() for pattern in _TRADE for match in pattern.finditer(text)]
