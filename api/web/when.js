// When what is told happened: now, or, for who writes it down afterwards, the time that was set, running on from there.
// Kept for this tab, so that loading the page again changes nothing, and for the day only.

const KEY = 'yardjar-earlier';

const sameDay = (one, other) => new Date(one).toDateString() === new Date(other).toDateString();

function read() {
  const kept = JSON.parse(sessionStorage.getItem(KEY) ?? 'null');
  return kept && sameDay(kept.set, Date.now()) ? kept : null;
}

// The moment in the past that is written for, or nothing.
export function earlier() {
  const from = read();
  return from && new Date(from.at + Date.now() - from.set);
}

export const now = () => earlier() ?? new Date();
export const writeFor = (at) => sessionStorage.setItem(KEY, JSON.stringify({ at: at.getTime(), set: Date.now() }));
export const writeForNow = () => sessionStorage.removeItem(KEY);
