// One short high tone when something was kept, two low ones when the rules have a doubt. It only repeats what the
// screen says.

// When each tone begins, in ms, and its pitch in Hz.
const KEPT = [[0, 880]];
const DOUBTFUL = [[0, 330], [180, 330]];
const LASTS_MS = 120;
const LOUD_PERCENT = 25;
const BUZZ_MS = 60;

let audio;

export function play(doubtful) {
  navigator.vibrate?.(doubtful ? [BUZZ_MS, BUZZ_MS, BUZZ_MS] : BUZZ_MS);
  audio ??= new AudioContext();
  for (const [after, pitch] of doubtful ? DOUBTFUL : KEPT) {
    const [tone, level, from] = [audio.createOscillator(), audio.createGain(), audio.currentTime + after / 1000];
    tone.frequency.value = pitch;
    level.gain.setValueAtTime(LOUD_PERCENT / 100, from);
    level.gain.linearRampToValueAtTime(0, from + LASTS_MS / 1000);
    tone.connect(level).connect(audio.destination);
    tone.start(from);
    tone.stop(from + LASTS_MS / 1000);
  }
}
