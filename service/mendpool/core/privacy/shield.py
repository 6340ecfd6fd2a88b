"""Marks what belongs to the trade: part and bearing numbers, threads, ratings, grades."""

import re

Span = tuple[int, int]

# At most six digits in a row or with a space: from seven on it may be somebody's telephone.
_NUMBER = r"(?:\d{1,3}(?:,\d{3}){1,3}(?:\.\d{1,4})?|\d{1,3} \d{3}|\d{1,6}(?:[.,]\d{1,6})?)"
_UNIT = (
    r"(?:[kmµu]?(?:va|watts?|w|volts?|v|amps?|amperes?|a|hz|pa|ohms?|ω|f|h|g|l|m|s|n)(?![a-z])"
    r"|(?:k?va|kvar|kwh?|rpm|psi|k?pa|m?bar|nm|n\.m|ncm|lb\.?-?ft|ft\.?-?lbs?|in\.?-?lbs?|mm2?|"
    r"cm2?|cc|ci|km|kg|hrs?|hours?|mins?|minutes?|secs?|seconds?|ms|days?|weeks?|months?|years?|"
    r"yrs?|inch(?:es)?|in|feet|foot|ft|yards?|miles?|mph|metres?|meters?|lit(?:re|er)s?|gallons?|gal|"
    r"qts?|ml|lbs?|oz|tons?|tonnes?|thou|mil|degrees?|deg|°c|°f|celsius|fahrenheit|c|k|meg|"
    r"mohms?|kohms?|ah|mah|cca|awg|phase|ph|poles?|pins?|ways?|wires?|cyl(?:inder)?s?|teeth|"
    r"turns?|strokes?|cycles?|times|hp|ps|bhp|kpa|mpa|db|kva|mv|ma|lpm|gpm|swg|series)(?![a-z])"
    r"|[%°\"”″Ω])"
)
_END = r"(?!\w)"
_KINDS = "name|phone|email|address|position|link|handle|number|day"

_TRADE = tuple(
    re.compile(pattern, re.IGNORECASE)
    for pattern in (
        # A placeholder of an earlier pass.
        rf"\[(?:{_KINDS})\]",
        # What stands behind "part no", "type", "ref": whatever it looks like.
        r"\b(?:part|p/n|pn|oem|item|ref|cat|catalogue|catalog|stock|spec|model|type|code|size)s?"
        r"\.?(?: ?(?:no|nr|num|numbers?|code))?\.?[:#]{0,2} ?"
        r"(?=[a-z/-]{0,8}\d)[a-z0-9][a-z0-9./-]{2,24}(?: \d{2,6}){0,3}",
        # Oil, fuel, bolts and their grades.
        r"\b(?:sae|iso|vg|api|acea|nlgi|iec|din|grade|class) ?[a-z]{0,3}-?\d{1,5}"
        r"(?:[-.:]\d{1,4}){0,2}" + _END,
        # Bearings and seals with their endings; metric threads; oils; a month of a report.
        r"(?<![\w-])(?=[a-z0-9])(?:[a-z]{0,4}\d{3,6}(?:(?:-[a-z0-9]{1,6}){1,3}| ?(?:2rs\w{0,3}|2z|zz|"
        r"rs|c3|llu|ddu))|m\d{1,2}(?:\.\d)?(?: ?[x×] ?\d{1,3}(?:\.\d{1,2})?){0,2}|\d{1,2}w[ -]?\d{2}"
        r"|(?:19|20)\d{2}-(?:0[1-9]|1[0-2]))(?![-\w])",
        # Fractions and inch threads, firing orders, times of the day.
        r"(?<![\w/:.-])(?=\d)(?:(?:\d{1,2}[ -])?\d{1,2}/\d{1,3}(?:-\d{1,2})?|\d(?:-\d){2,7}|"
        r"\d{1,2}:\d{2}(?::\d{2})?)(?![\w/:-])",
        # Sizes such as 25 x 52 x 15; rows of readings with decimals.
        r"(?<![\w.,-])\d{1,5}(?:[.,]\d{1,3})?(?: ?[x×*] ?\d{1,4}(?:[.,]\d{1,3})?){1,3}(?!\d)",
        r"(?<![\w.,+/-])\d{1,5}[.,]\d{1,3}(?:[,;/ ]{1,2}\d{1,5}[.,]\d{1,3}){1,12}(?!\w)",
        # A figure with its unit; not the tail of a longer run of digits.
        r"(?<![\w.,+/-])(?<!\d )" + _NUMBER + r"(?: ?(?:-|to|–|or|/|\+-|±) ?" + _NUMBER + r")?[ -]?"
        + _UNIT,
    )
)  # fmt: skip


def trade_spans(text: str) -> list[Span]:
    """Return the places of what belongs to the trade; they may overlap."""
    if not any(c.isdigit() or c == "[" for c in text):
        return []
    return [match.span() for pattern in _TRADE for match in pattern.finditer(text)]
