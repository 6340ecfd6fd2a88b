// The shapes that `scrub.js` looks for: positions on earth, and what belongs to the trade and
// stays. Each is [what may not stand before, shape].

const GAP = '[ ,;]{1,3}';
const END = '(?![\\p{L}\\p{N}_])';
const NOT_IN_FIGURE = /[\p{L}\p{N}_.-]/u;
const WORD = /[\p{L}\p{N}_]/u;
const SECONDS = '(?: ?\\d{1,2}(?:\\.\\d{1,4})? ?(?:"|\u2033|\'\'))?';
const SIXTIETHS = `(?: ?\\d{1,2}(?:\\.\\d{1,6})? ?['\u2032\u2019]${SECONDS})?`;
const DEGREES = `\\d{1,3}(?:\\.\\d{1,10})? ?°${SIXTIETHS}`;
const WITH_DEGREES = `[-+]?${DEGREES} ?[nsew](?![a-z])`;
const decimal = (least, sign = '[-+]?') => `${sign}\\d{1,3}\\.\\d{${least},12}`;
const pair = (first, second) => `${first}${GAP}${second}(?![\\p{L}\\p{N}_.])`;

/** Where on earth something is, in figures. */
export const POSITIONS = [
  [/[\p{L}\p{N}_.\-"'°\u2032\u2033]/u, `[nsew] ?${DEGREES}(?:${GAP}[nsew] ?${DEGREES})?`],
  [NOT_IN_FIGURE, `${WITH_DEGREES}(?:[ ,;]{0,3}${WITH_DEGREES})?`],
  [NOT_IN_FIGURE, pair('[ns] ?\\d{1,2}\\.\\d{3,10}', '[ew] ?\\d{1,3}\\.\\d{3,10}')],
  [NOT_IN_FIGURE, pair('\\d{1,2}\\.\\d{3,10} ?[ns]', '\\d{1,3}\\.\\d{3,10} ?[ew]')],
  // Five decimals are a metre; nobody measures a shaft so. With a sign four are enough, behind
  // a word that says so two.
  [NOT_IN_FIGURE, pair(decimal(5), decimal(5))],
  [NOT_IN_FIGURE, pair(decimal(4, '-'), decimal(4))],
  [NOT_IN_FIGURE, pair(decimal(4, ''), decimal(4, '-'))],
  [WORD, `(?:gps|pin|lat|position|location) ${pair(decimal(2), `(?:l(?:on|ng) )?${decimal(2)}`)}`],
  // Degrees and minutes without a sign; each called by its name.
  [NOT_IN_FIGURE, pair('[ns] ?\\d{1,2}[ -]\\d{1,2}\\.\\d{2,5}', '[ew] ?\\d{1,3}[ -]\\d{1,2}\\.\\d{2,5}')],
  [WORD, `(?:lat|long?|lng)(?:itude)?[ :=]{1,3}[-+]?\\d{1,3}\\.\\d{2,12}(?: ?[nsew])?${END}`],
  [WORD, `(?:lat|long?|lng)(?:itude)?[ :=]{1,3}\\d{1,3} \\d{1,2}(?: \\d{1,2})?(?:\\.\\d{1,4})? ?[nsew]${END}`],
  [NOT_IN_FIGURE, pair('\\d{1,2} \\d{1,2} \\d{1,2}(?:\\.\\d{1,3})? ?[ns]', '\\d{1,3} \\d{1,2} \\d{1,2}(?:\\.\\d{1,3})? ?[ew]')],
  // Map grids: zone and band with metres; with the square's letters; a national grid.
  [/[\p{L}\p{N}_.+-]/u, `\\d{1,2}[c-hj-np-x] ?[1-9]\\d{5}(?:\\.\\d{1,3})? ?\\d{7}(?:\\.\\d{1,3})?${END}`],
  [/[\p{L}\p{N}_.+-]/u, `\\d{1,2}[c-hj-np-x] ?[a-hj-np-z][a-hj-np-v](?: ?\\d{5} ?\\d{5}| ?\\d{4} ?\\d{4}| \\d{3} \\d{3})${END}`],
  [WORD, `(?:grid|os|map)(?: ref(?:erence)?)?[ :]{1,2}[a-hj-z]{1,2} ?\\d{3,5} ?\\d{3,5}${END}`],
  [WORD, `(?:geohash|geo hash)(?: is)?[ :]{1,2}[0-9b-hjkmnp-z]{5,12}${END}`],
  [WORD, `(?:what ?(?:3|three) ?words|w3w)(?: is)?[ :]{1,3}/{0,3}\\p{L}{3,20}(?:\\.\\p{L}{3,20}){2}${END}`],
  // A grid code with its plus; three words behind three slashes.
  [/[\p{L}\p{N}_.+-]/u, '[23456789cfghjmpqrvwx]{4,8}\\+[23456789cfghjmpqrvwx]{2,3}(?![\\p{L}\\p{N}_+])'],
  [/[\p{L}\p{N}_/]/u, '///[a-z]{3,20}\\.[a-z]{3,20}\\.[a-z]{3,20}(?![\\p{L}\\p{N}_.])'],
];

// At most six digits in a row or with a space: from seven on it may be somebody's telephone.
const NUMBER = '(?:\\d{1,3}(?:,\\d{3}){1,3}(?:\\.\\d{1,4})?|\\d{1,3} \\d{3}|\\d{1,6}(?:[.,]\\d{1,6})?)(?!\\d)';
const UNIT = '(?:(?:[kmµu]?(?:va|watts?|w|volts?|v|amps?|amperes?|a|hz|pa|ohms?|ω|f|h|g|l|m|s|n)'
  + '|kvar|kwh|rpm|psi|m?bar|nm|n\\.m|ncm|lb\\.?-?ft|ft\\.?-?lbs?|in\\.?-?lbs?|mm2?|cm2?|cc|ci|km|'
  + 'hrs?|hours?|mins?|minutes?|secs?|seconds?|days?|weeks?|months?|years?|yrs?|inch(?:es)?|in|'
  + 'feet|foot|ft|yards?|miles?|mph|met(?:re|er)s?|lit(?:re|er)s?|gallons?|gal|qts?|ml|lbs?|oz|'
  + 'tons?|tonnes?|thou|mil|degrees?|deg|°c|°f|celsius|fahrenheit|c|k|meg|mohms?|ah|mah|cca|awg|'
  + 'swg|phase|ph|poles?|pins?|ways?|wires?|cyl(?:inder)?s?|teeth|turns?|strokes?|cycles?|times|'
  + 'hp|ps|bhp|db|lpm|gpm|series)(?![a-z])|[%°"”″Ω])';
const RANGE = `(?: ?(?:-|to|–|or|/|\\+-|±) ?${NUMBER})?[ -]?`;

/** A part's number behind a word that says so: surer than any word that leads to a telephone. */
export const PART = [WORD, '(?:part|p/n|pn|oem|item|ref|cat|catalogue|catalog|stock|spec|model|type|code|size)s?'
  + '\\.?(?: ?(?:no|nr|num|numbers?|code))?\\.?[:#]{0,2} ?(?=[a-z/-]{0,8}\\d)[a-z0-9][a-z0-9./-]{2,24}(?: \\d{2,6}){0,3}'];

/** What else belongs to the trade and stays: grades, bearings, threads, sizes, rows, ratings. */
export const TRADE = [
  [WORD, `(?:sae|iso|vg|api|acea|nlgi|iec|din|grade|class) ?[a-z]{0,3}-?\\d{1,5}(?:[-.:]\\d{1,4}){0,2}${END}`],
  [/[\p{L}\p{N}_-]/u, '(?=[a-z0-9])(?:[a-z]{0,4}\\d{3,6}(?:(?:-[a-z0-9]{1,6}){1,3}| ?(?:2rs[\\p{L}\\p{N}_]{0,3}|2z|zz|rs|c3|llu|ddu))'
    + '|m\\d{1,2}(?:\\.\\d)?(?: ?[x×] ?\\d{1,3}(?:\\.\\d{1,2})?){0,2}'
    + '|\\d{1,2}w[ -]?\\d{2}|(?:19|20)\\d{2}-(?:0[1-9]|1[0-2]))(?![-\\p{L}\\p{N}_])'],
  [/[\p{L}\p{N}_/:.-]/u, '(?=\\d)(?:(?:\\d{1,2}[ -])?\\d{1,2}/\\d{1,3}(?:-\\d{1,2})?|\\d(?:-\\d){2,7}|\\d{1,2}:\\d{2}(?::\\d{2})?)(?![\\p{L}\\p{N}_/:-])'],
  [/[\p{L}\p{N}_.,-]/u, '\\d{1,5}(?:[.,]\\d{1,3})?(?: ?[x×*] ?\\d{1,4}(?:[.,]\\d{1,3})?){1,3}(?!\\d)'],
  [/[\p{L}\p{N}_.,+/-]/u, `\\d{1,5}[.,]\\d{1,3}(?:[,;/ ]{1,2}\\d{1,5}[.,]\\d{1,3}){1,12}${END}`],
  // A figure with its unit; not the tail of a longer run of digits.
  [/[\p{L}\p{N}_.,+/-]|\p{Nd} /u, `${NUMBER}${RANGE}${UNIT}`],
];
