/** The sound of an alarm. Off until a person has tried it: a page that cries unasked is closed, not listened to. */
import { signal } from "@preact/signals-core";

const KEPT = "slipring-sound";
const AGAIN_MS = 10_000; // until somebody acknowledges
const TONES_HZ = [880, 660, 880] as const;
const TONE_S = 0.18;

export const soundOn = signal(localStorage.getItem(KEPT) === "on");
let audio: AudioContext | null = null;
let timer: ReturnType<typeof setInterval> | undefined;

/** Lets it be heard, and leaves it on. */
export function trySound(): void {
  soundOn.value = true;
  localStorage.setItem(KEPT, "on");
  sound();
}

export function soundOff(): void {
  soundOn.value = false;
  localStorage.setItem(KEPT, "off");
}

/** Sounds at once and again and again while something calls. */
export function call(calling: boolean): void {
  clearInterval(timer);
  timer = undefined;
  if (!calling) return;
  if (soundOn.peek()) sound();
  timer = setInterval(() => { if (soundOn.peek()) sound(); }, AGAIN_MS);
}

function sound(): void {
  audio ??= new AudioContext();
  void audio.resume(); // a browser lets no page sound that nobody has touched yet
  TONES_HZ.forEach((hertz, k) => tone(audio!, hertz, audio!.currentTime + k * (TONE_S + 0.05)));
}

function tone(context: AudioContext, hertz: number, begin_s: number): void {
  const [source, volume] = [context.createOscillator(), context.createGain()];
  source.frequency.value = hertz;
  volume.gain.setValueAtTime(0.0001, begin_s);
  volume.gain.exponentialRampToValueAtTime(0.4, begin_s + 0.02);
  volume.gain.exponentialRampToValueAtTime(0.0001, begin_s + TONE_S);
  source.connect(volume).connect(context.destination);
  source.start(begin_s);
  source.stop(begin_s + TONE_S);
}
