// @ts-check
// Tells by sound and by shaking what a scan came to, for who does not look at the screen.

/** Tones as [Hz, seconds]; milliseconds of shaking and rest. */
const SIGNALS = {
  good: { tones: [[1320, 0.09]], shake: [60] },
  again: { tones: [[660, 0.07], [0, 0.05], [660, 0.07]], shake: [40, 60, 40] },
  stop: { tones: [[220, 0.25], [0, 0.06], [165, 0.45]], shake: [300, 100, 300, 100, 500] },
};

/** @type {AudioContext | null} */
let audio = null;

/** @param {"good" | "again" | "stop"} what */
export function signal(what) {
  document.body.dataset.signal = what;
  // Browsers allow neither before somebody has touched the page.
  if (!navigator.userActivation?.hasBeenActive) return;
  const { tones, shake } = SIGNALS[what];
  navigator.vibrate?.(shake);
  audio ??= new AudioContext();
  let at = audio.currentTime;
  for (const [pitch, long] of tones) {
    if (pitch) tone(audio, pitch, at, long);
    at += long;
  }
}

/** @param {AudioContext} context @param {number} pitch @param {number} at @param {number} long */
function tone(context, pitch, at, long) {
  const loudness = context.createGain();
  loudness.gain.setValueAtTime(0.4, at);
  loudness.gain.linearRampToValueAtTime(0, at + long);
  loudness.connect(context.destination);
  const source = context.createOscillator();
  source.type = "square";
  source.frequency.value = pitch;
  source.connect(loudness);
  source.start(at);
  source.stop(at + long);
}
