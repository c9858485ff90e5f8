import { useSignal } from '@preact/signals';
import { useRef } from 'preact/hooks';
import type { Batch } from '../../../shared/wire/batch.ts';
import { MOST_PICTURE_BYTES, PICTURE_TYPES } from '../../../shared/wire/entries.ts';
import { fetchBatch, later } from '../../store.ts';
import { BATCH } from '../../texts/batch.ts';
import { by, Field, NameField, Problem, useAction } from '../../views/form.tsx';
import { Part } from '../../views/part.tsx';
import { sendPicture } from './calls.ts';

/** Longest side of a picture that had to be made smaller, pixels: a phase line is still seen. */
const SMALLER_PX = 2400;
const SMALLER_QUALITY = 0.85;

/** Takes a photograph in; they are shown in the story, where they were taken. */
export function Pictures({ batch }: { batch: Batch }) {
  const texts = BATCH.picture;
  const file = useRef<HTMLInputElement>(null);
  const text = useSignal('');
  const said = useSignal('');
  const { busy, problem, run, complain } = useAction();

  const send = async (event: Event): Promise<void> => {
    event.preventDefault();
    said.value = '';
    const chosen = file.current?.files?.[0];
    if (chosen === undefined) {
      complain(texts.none);
      return;
    }
    const fits =
      chosen.size <= MOST_PICTURE_BYTES && (PICTURE_TYPES as readonly string[]).includes(chosen.type);
    const picture = fits ? chosen : await smaller(chosen);
    if (picture === undefined) {
      complain(texts.unreadable);
      return;
    }
    const about = text.value.trim();
    const done = await run(async () => {
      await sendPicture(batch.id, picture, { ...by(), ...(about === '' ? {} : { text: about }) });
      await fetchBatch(batch.id).catch(later);
    });
    if (!done) return;
    text.value = '';
    file.current!.value = '';
    said.value = fits ? texts.saved : `${texts.saved} ${texts.smaller}`;
  };

  return (
    <Part title={texts.title} class="pictures">
      <form onSubmit={send}>
        <div class="grid">
          <div class="field">
            <label for="picture-file">{texts.file}</label>
            <input
              id="picture-file"
              ref={file}
              type="file"
              accept={PICTURE_TYPES.join(',')}
              aria-describedby="picture-help"
            />
          </div>
          <Field
            label={texts.text}
            value={text.value}
            onValue={(typed) => {
              text.value = typed;
            }}
          />
          <NameField label={BATCH.name} />
        </div>
        <small id="picture-help" class="quiet">
          {texts.help}
        </small>
        <Problem problem={problem} />
        <p role="status">{said.value}</p>
        <button type="submit" disabled={busy}>
          {texts.send}
        </button>
      </form>
    </Part>
  );
}

/** Undefined where the browser cannot read it. */
async function smaller(picture: Blob): Promise<Blob | undefined> {
  try {
    const bitmap = await createImageBitmap(picture);
    const scale = Math.min(1, SMALLER_PX / Math.max(bitmap.width, bitmap.height));
    const canvas = document.createElement('canvas');
    canvas.width = Math.round(bitmap.width * scale);
    canvas.height = Math.round(bitmap.height * scale);
    canvas.getContext('2d')!.drawImage(bitmap, 0, 0, canvas.width, canvas.height);
    bitmap.close();
    const made = await new Promise<Blob | null>((resolve) =>
      canvas.toBlob(resolve, 'image/jpeg', SMALLER_QUALITY),
    );
    return made ?? undefined;
  } catch {
    return undefined;
  }
}
