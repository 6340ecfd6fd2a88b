// Finds codes by the words one has for them, while they are typed. Pure.

const SMALL = new Set('a an and the it is at in of to on up my i el la los las de en un una y se'.split(' '));
// So much of a phrase has to be there, by weight: a word that many codes are spoken of with
// weighs little.
const ENOUGH = 0.5;
const [BEGUN, AKIN] = [0.8, 0.6];

/** Words of a text without accents and capitals; "won't" is one word. */
export const wordsOf = (text) => text.toLowerCase().normalize('NFKD').replace(/[\u0300-\u036f]/g, '').replace(/n['\u2019]t\b/g, 'nt')
  .replace(/[^a-z0-9]+/g, ' ').trim().split(' ').filter((word) => word && !SMALL.has(word));

/** How near a typed word comes to another, 0 to 1; the `last` one may not be whole yet. */
function near(typed, word, last) {
  if (typed === word) return 1;
  if (typed.length >= (last ? 3 : 4) && word.startsWith(typed) && (last || word.length - typed.length <= 4)) return BEGUN;
  let same = 0;
  while (same < typed.length && typed[same] === word[same]) same += 1;
  return same >= 4 && same >= 0.55 * Math.max(typed.length, word.length) ? AKIN : 0;
}

/**
 * Make what finds among codes.
 * @param {Object<string, string[]>} phrasesOf what each code is called
 * @returns {(text: string, admitted?: (code: string) => boolean, most?: number) => string[]}
 *   codes, the best first
 */
export function finder(phrasesOf) {
  const said = Object.entries(phrasesOf).map(([code, phrases]) => [code, phrases.map(wordsOf).filter((words) => words.length)]);
  const common = new Map();
  for (const [, phrases] of said) for (const word of new Set(phrases.flat())) common.set(word, (common.get(word) ?? 0) + 1);
  const weight = new Map([...common].map(([word, codes]) => [word, Math.log(1 + said.length / codes)]));
  return (text, admitted = () => true, most = 6) => {
    const typed = [...new Set(wordsOf(text))];
    if (!typed.length) return [];
    const last = wordsOf(text).at(-1);
    const nearest = new Map();
    const there = (word) => {
      if (!nearest.has(word)) nearest.set(word, Math.max(...typed.map((one) => near(one, word, one === last))));
      return nearest.get(word);
    };
    const score = (words) => {
      const whole = words.reduce((sum, word) => sum + weight.get(word), 0);
      const found = words.reduce((sum, word) => sum + there(word) * weight.get(word), 0);
      return found >= ENOUGH * whole ? (found * found) / whole : 0;
    };
    return said.filter(([code]) => admitted(code)).map(([code, phrases]) => [Math.max(0, ...phrases.map(score)), code])
      .filter(([best]) => best > 0).sort((a, b) => b[0] - a[0] || (a[1] < b[1] ? -1 : 1)).slice(0, most).map(([, code]) => code);
  };
}
