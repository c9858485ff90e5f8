import type { ComponentChildren } from 'preact';
import { useEffect, useId, useRef } from 'preact/hooks';
import { alarmSentence } from '../alarm-sentence.ts';
import { unit } from '../settings.ts';
import { alarms, isLive } from '../store.ts';
import { BATCH } from '../texts/batch.ts';
import { gravestStanding } from '../vessels.ts';
import { PriorityMark } from './alarms.tsx';
import { useFocusBack } from './focus.ts';
import './full-screen.css';

/**
 * One job over the whole screen, for gloves and from two metres. What hides the page says itself what the page
 * would say: the gravest alarm, and that the link is lost.
 */
export function FullScreen({
  title,
  onClose,
  children,
}: {
  title: string;
  onClose: () => void;
  children: ComponentChildren;
}) {
  const dialog = useRef<HTMLDialogElement>(null);
  const id = useId();
  useEffect(() => {
    dialog.current?.showModal();
    dialog.current?.querySelector<HTMLElement>('[data-first]')?.focus();
  }, []);
  useFocusBack();
  const gravest = gravestStanding(alarms.value);
  return (
    <dialog ref={dialog} class="full-screen" aria-labelledby={id} onClose={onClose}>
      <header>
        <h2 id={id}>{title}</h2>
        <button type="button" class="plain" onClick={() => dialog.current?.close()}>
          {BATCH.full.close}
        </button>
      </header>
      {gravest !== undefined && (
        <p class={`full-alarm ${gravest.priority === 'critical' ? 'grave' : ''}`} role="alert">
          <PriorityMark priority={gravest.priority} />
          <b>
            {gravest.vessel}: {alarmSentence(gravest, unit.value).because}
          </b>
          <span class="todo">{alarmSentence(gravest, unit.value).todo}</span>
        </p>
      )}
      {!isLive.value && (
        <p class="full-alarm" role="alert">
          <b>{BATCH.full.notLive}</b>
        </p>
      )}
      {children}
    </dialog>
  );
}
