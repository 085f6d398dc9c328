// Numbers, dates and counts as people write them.

const minus = '−';

/** A number with at most three significant decimals, thousands set apart, and a real minus. */
export function number(v: number | null | undefined, decimals?: number): string {
  if (v === null || v === undefined || !Number.isFinite(v)) return '–';
  const places = decimals ?? decimalsFor(v);
  const text = Math.abs(v).toLocaleString('en', {
    minimumFractionDigits: decimals ?? 0,
    maximumFractionDigits: places,
  });
  return v < 0 && /[1-9]/.test(text) ? minus + text : text;
}

/** Few decimals for large numbers, more for small ones. */
export function decimalsFor(v: number): number {
  const size = Math.abs(v);
  if (size === 0 || Number.isInteger(v)) return 0;
  if (size >= 100) return 0;
  if (size >= 10) return 1;
  if (size >= 1) return 2;
  return 3;
}

const usual: Record<string, number> = { m: 3, s: 3, deg: 1, 'm/s': 1, '%': 1, 'deg/s': 0 };

/** The decimals that values of a unit are given with, so that columns line up; undefined for a unit without a usage. */
export const decimalsOf = (u: string | undefined): number | undefined => (u === undefined ? undefined : usual[u]);

/** A number with its sign: +0.12, −0.07, 0. */
export function signed(v: number | null | undefined, decimals?: number): string {
  const text = number(v, decimals);
  return typeof v === 'number' && v > 0 && /[1-9]/.test(text) ? `+${text}` : text;
}

/** "1 serve", "1,012 serves". */
export function count(n: number, one: string, many = `${one}s`): string {
  return `${n.toLocaleString('en')} ${n === 1 ? one : many}`;
}

const units: Record<string, string> = { deg: '°', 'deg/s': '°/s', '%': '%' };

/** The unit as it is written: degrees as a sign. */
export function unit(u: string | undefined): string {
  return u ? (units[u] ?? u) : '';
}

/** A value with its unit: "0.12 m", "62°". */
export function withUnit(text: string, u: string | undefined): string {
  const sign = unit(u);
  if (!sign) return text;
  return sign.startsWith('°') || sign === '%' ? text + sign : `${text} ${sign}`;
}

/** A text in which numbers and their units stay on one line. */
export const unbroken = (text: string): string =>
  text.replace(/(\d) (?=%|(?:mm|cm|m|ms|s|min|kg|Hz|m\/s)(?![\w/]))/g, '$1\u00a0');

const months = [
  'January',
  'February',
  'March',
  'April',
  'May',
  'June',
  'July',
  'August',
  'September',
  'October',
  'November',
  'December',
];

/** An ISO date as "14 March", with the year where it is another than the given one. */
export function day(iso: string, year?: string): string {
  const m = /^(\d{4})-(\d{2})-(\d{2})/.exec(iso);
  if (!m) return iso;
  const text = `${Number(m[3])} ${months[Number(m[2]) - 1] ?? ''}`;
  return year !== undefined && year === m[1] ? text : `${text} ${m[1]}`;
}

/** A short date for axes: "14 Mar". */
export function shortDay(iso: string): string {
  const m = /^(\d{4})-(\d{2})-(\d{2})/.exec(iso);
  return m ? `${Number(m[3])} ${(months[Number(m[2]) - 1] ?? '').slice(0, 3)}` : iso;
}

/** How long something took: "41 ms", "1.2 s". */
export function took(ms: number): string {
  if (ms < 1) return 'under 1 ms';
  return ms < 1000 ? `${Math.round(ms)} ms` : `${number(ms / 1000, 1)} s`;
}

/** How long something will take: "a few seconds", "about 40 s", "about 3 min". */
export function left(seconds: number): string {
  if (seconds < 5) return 'a few seconds left';
  if (seconds < 90) return `about ${Math.ceil(seconds / 5) * 5} s left`;
  return `about ${Math.round(seconds / 60)} min left`;
}

/** Names joined as in a sentence: "a, b and c". */
export function list(names: string[]): string {
  if (names.length < 2) return names.join('');
  return `${names.slice(0, -1).join(', ')} and ${names[names.length - 1]}`;
}

/** A snake-case name as words: "low_point" is "low point". */
export function plain(name: string): string {
  return name.replaceAll('_', ' ');
}
