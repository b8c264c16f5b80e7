// One short high tone when something was kept, two low ones when the rules have a doubt. It only repeats what the
// screen says.

const KEPT = [[0, 880]];
const DOUBTFUL = [[0, 330], [0.18, 330]];
const LASTS_S = 0.12;
const QUIET = 0.0001;
const LOUD = 0.25;
const BUZZ_MS = 60;

let audio;

export function play(doubtful) {
  navigator.vibrate?.(doubtful ? [BUZZ_MS, BUZZ_MS, BUZZ_MS] : BUZZ_MS);
  audio ??= new AudioContext();
  for (const [after, pitch] of doubtful ? DOUBTFUL : KEPT) {
    const [tone, level, from] = [audio.createOscillator(), audio.createGain(), audio.currentTime + after];
    tone.frequency.value = pitch;
    level.gain.setValueAtTime(LOUD, from);
    level.gain.exponentialRampToValueAtTime(QUIET, from + LASTS_S);
    tone.connect(level).connect(audio.destination);
    tone.start(from);
    tone.stop(from + LASTS_S);
  }
}
