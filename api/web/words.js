// What is read on the screen: strings by language, numbers, dates and units as the person wants them.
// All arithmetic of the trade is in WebAssembly; here is only the pound, which is defined as so many grams.

export const GRAMS_PER_LB = 453.59237;
const FREEZING_TENTHS_F = 320;
const KG_G = 1000;
const LANGUAGES = ['en', 'de'];
// The rules and the service speak English; in another language the point of what they say is known by its name.
const RULES_SPEAK = 'en';

let strings = {};
let points = {};
let plural = new Intl.PluralRules('en');
let language = 'en';
// How this person's region writes dates and numbers in that language.
let locale = 'en';
let units = { mass: 'kg', temperature: 'c' };

export const languages = LANGUAGES;
export const currentLanguage = () => language;
export const currentUnits = () => units;

// Which parts of the words are in use: the first is on every phone, others come with the screens that need them.
let parts = [''];
// Every language says everything: a test looks.
const readPart = async (part) => (await fetch(new URL(`strings/${part}${language}.json`, import.meta.url))).json();

// Nobody waits for them: until they are here, or without them, the English stands alone.
let late = false;
async function readPoints(wanted) {
  const read = wanted === RULES_SPEAK ? {} : await readPart('says-');
  if (wanted === language) points = read;
}
export function speakPoints() {
  late = true;
  readPoints(language).catch(console.error);
}

export async function speak(wanted, wantedUnits) {
  language = LANGUAGES.includes(wanted) ? wanted : 'en';
  units = { ...units, ...wantedUnits };
  locale = navigator.languages.find((one) => one.startsWith(language)) ?? language;
  plural = new Intl.PluralRules(language);
  strings = Object.assign({}, ...(await Promise.all(parts.map(readPart))));
  document.documentElement.lang = language;
  if (late) speakPoints();
}

// The point of what the rules say under these names, in the person's language; nothing if that is theirs.
export const pointOf = (...names) => names.map((name) => points[name]).find(Boolean);
export const foreign = () => (language === RULES_SPEAK ? null : RULES_SPEAK);

export async function speakAlso(part) {
  const name = `${part}-`;
  if (parts.includes(name)) return;
  strings = { ...strings, ...(await readPart(name)) };
  parts = [...parts, name];
}

// Names in braces are filled in; {n} also picks the plural form.
export function t(key, values = {}) {
  let text = strings[key];
  if (text === undefined) return `⟦${key}⟧`;
  if (typeof text === 'object') text = text[plural.select(values.n)] ?? text.other;
  return text.replace(/\{(\w+)\}/g, (_, name) => values[name] ?? '');
}

export const known = (key) => strings[key] !== undefined;

export const number = (value, digits = 0) =>
  new Intl.NumberFormat(locale, { minimumFractionDigits: digits, maximumFractionDigits: digits }).format(value);

export function decimalMark() {
  const parts = new Intl.NumberFormat(locale).formatToParts(1.5);
  return parts.find((part) => part.type === 'decimal').value;
}

const inLb = () => units.mass === 'lb';
export const massUnit = () => units.mass;

// One decimal, in the person's unit. A tenth of a pound goes to grams and comes back the same.
const tenths = (grams) => (inLb() ? (grams * 10) / GRAMS_PER_LB : grams / 100);
export const tenthsOfGrams = (grams, whole = true) => (whole ? Math.round(tenths(grams)) : tenths(grams));
export const gramsOfTenths = (tenths) => Math.round(inLb() ? (tenths * GRAMS_PER_LB) / 10 : tenths * 100);
export const mass = (grams) =>
  grams === undefined || grams === null ? t('unit.none') : `${number(tenthsOfGrams(grams) / 10, 1)}\u00a0${units.mass}`;

export const percent = (hundredths, digits = 1) => `${number(hundredths / 100, digits)}\u00a0%`;

export const temperatureUnit = () => (units.temperature === 'f' ? '°F' : '°C');
export const tenthsShown = (tenths) => (units.temperature === 'f' ? Math.round((tenths * 9) / 5 + FREEZING_TENTHS_F) : tenths);
export const tenthsCOf = (tenths) => (units.temperature === 'f' ? Math.round(((tenths - FREEZING_TENTHS_F) * 5) / 9) : tenths);

// Sentences of the rules speak of kilograms and degrees Celsius, with a point. Here a person reads them in the own units;
// of "13 to 21 °C" both ends.
const FIGURES = /(?:(-?\d+(?:\.\d+)?)( to | and |-|–))?(-?\d+(?:\.\d+)?) (kg|°C)/g;
const OTHERS = {
  kg: (kg) => inLb() && [(kg * KG_G) / GRAMS_PER_LB, 1],
  '°C': (degrees) => units.temperature === 'f' && [tenthsShown(degrees * 10) / 10, 0],
};
export function inOwnUnits(text) {
  const one = (figure, unit) => figure && number(...(OTHERS[unit](Number(figure)) || [Number(figure), figure.split('.')[1]?.length]));
  const own = { kg: units.mass, '°C': temperatureUnit() };
  return text.replace(FIGURES, (_, from, between, to, unit) => `${one(from, unit) ?? ''}${between ?? ''}${one(to, unit)} ${own[unit]}`);
}

export const clock = (at) => new Intl.DateTimeFormat(locale, { hour: '2-digit', minute: '2-digit', hourCycle: 'h23' }).format(new Date(at));
export const day = (at) => new Intl.DateTimeFormat(locale, { dateStyle: 'medium' }).format(new Date(at));
export const monthName = (at) => new Intl.DateTimeFormat(locale, { month: 'short' }).format(at);
export const moment = (at) => `${day(at)} ${clock(at)}`;
// As the browser's own fields for a day and a time take it, in the time of this place.
const two = (part) => String(part).padStart(2, '0');
const localDay = (at) => `${at.getFullYear()}-${two(at.getMonth() + 1)}-${two(at.getDate())}`;
export const local = (at) => `${localDay(at)}T${two(at.getHours())}:${two(at.getMinutes())}`;
export const today = () => localDay(new Date());

// Numbers painted on boxes: 9 before 10, and 041 where a person looks for it.
const collator = new Intl.Collator('en', { numeric: true });
export const byLabel = (a, b) => collator.compare(a.label ?? '', b.label ?? '');
