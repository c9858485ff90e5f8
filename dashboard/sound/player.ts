import { computed, effect } from '@preact/signals';
import type { Priority } from '../../shared/wire/names.ts';
import { alarms, heardAt, isLive, testWarning } from '../store.ts';
import { asked } from '../working-alone.ts';
import { soundState } from './keep.ts';
import { AGAIN_MS, ASKED_AGAIN_MS, newlyHeard, repeats, TUNES, type Unseen, unseenOf } from './tunes.ts';

/** Peak of a tone, 0 to 1, and how long it swells and fades so that it does not crack, s. */
const LOUDNESS = 0.4;
const SWELL_S = 0.015;

/** One for the whole page: a browser allows few. */
let context: AudioContext | undefined;

/** What a browser takes as a wish of the reader's. */
const WISHES = ['pointerdown', 'pointerup', 'keydown', 'touchend'] as const;

function opened(): AudioContext | undefined {
  try {
    context ??= new AudioContext();
  } catch {
    return undefined;
  }
  return context;
}

/** Plays a tune; nothing where the browser holds sound back: heard late it would be of the past. */
export function play(tune: Priority | 'lost'): void {
  const audio = opened();
  if (audio?.state !== 'running') return;
  const start = audio.currentTime + 0.02;
  for (const { hz, atMs, forMs } of TUNES[tune]) {
    const from = start + atMs / 1000;
    const to = from + forMs / 1000;
    const tone = audio.createOscillator();
    const volume = audio.createGain();
    tone.type = 'triangle';
    tone.frequency.value = hz;
    volume.gain.setValueAtTime(0, from);
    volume.gain.linearRampToValueAtTime(LOUDNESS, from + SWELL_S);
    volume.gain.setValueAtTime(LOUDNESS, to - SWELL_S);
    volume.gain.linearRampToValueAtTime(0, to);
    tone.connect(volume).connect(audio.destination);
    tone.start(from);
    tone.stop(to);
  }
}

/** Sounds what alarms come, until it is ended. */
export function followAlarms(): () => void {
  const audio = opened();
  if (audio === undefined) {
    soundState.value = 'none';
    return () => {};
  }
  let unseen: Unseen = new Map();
  let again: ReturnType<typeof setInterval> | undefined;

  /** Who is asked whether they are well and may answer yet. */
  const questions = computed(() =>
    asked.value
      .filter(({ unanswered }) => !unanswered)
      .map(({ site, vessel, asks }) => `${site}:${vessel} ${asks}`)
      .join(),
  );

  const note = (): void => {
    const before = soundState.peek();
    soundState.value = audio.state === 'running' ? 'ready' : 'blocked';
    // What stands and could not be heard so far.
    if (before !== 'blocked' || audio.state !== 'running') return;
    sound(newlyHeard(new Map(), unseen) ?? (questions.peek() === '' ? undefined : 'high'));
  };
  const wish = (): void => {
    if (audio.state !== 'running') audio.resume().then(note, () => {});
  };
  const sound = (priority: Priority | undefined): void => {
    if (priority !== undefined) play(priority);
  };

  audio.addEventListener('statechange', note);
  for (const kind of WISHES) addEventListener(kind, wish, { capture: true, passive: true });
  // Chosen by a click it may; after a reload it mostly may not.
  wish();
  note();

  const endAlarms = effect(() => {
    const now = unseenOf(alarms.value);
    sound(newlyHeard(unseen, now));
    unseen = now;
    if (!repeats(now)) {
      clearInterval(again);
      again = undefined;
    } else again ??= setInterval(() => play('critical'), AGAIN_MS);
  });
  const endQuestions = effect(() => {
    if (questions.value === '') return;
    play('high');
    const repeated = setInterval(() => play('high'), ASKED_AGAIN_MS);
    return () => clearInterval(repeated);
  });
  let wasLive = isLive.peek();
  const endLink = effect(() => {
    if (wasLive && !isLive.value && heardAt.peek() !== undefined) play('lost');
    wasLive = isLive.value;
  });
  let tested = testWarning.peek();
  const endTests = effect(() => {
    if (testWarning.value !== undefined && testWarning.value !== tested) play('medium');
    tested = testWarning.value;
  });

  return () => {
    endAlarms();
    endQuestions();
    endLink();
    endTests();
    clearInterval(again);
    audio.removeEventListener('statechange', note);
    for (const kind of WISHES) removeEventListener(kind, wish, { capture: true });
  };
}
