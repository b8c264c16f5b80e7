// Which hives a job for a whole yard means: all of them, until one is touched away. Kept until the app is left.

const leftOut = new Map();
const key = (yard, job) => `${yard}/${job}`;
const of = (yard, job) => leftOut.get(key(yard, job)) ?? new Set();

export const has = (yard, job, hive) => !of(yard, job).has(hive);

export function toggle(yard, job, hive) {
  const set = of(yard, job);
  if (!set.delete(hive)) set.add(hive);
  leftOut.set(key(yard, job), set);
}

// The job is done: next time it means all of them again.
export const reset = (yard, job) => leftOut.delete(key(yard, job));
