import type { Batch } from '../../../shared/wire/batch.ts';
import { unit } from '../../settings.ts';
import { BATCH } from '../../texts/batch.ts';
import { Part } from '../../views/part.tsx';
import { inTheirWords } from '../../views/words.ts';
import { labelHref, recordHref } from './calls.ts';

const FORMATS = {
  html: { format: 'html' },
  pdfA4: { format: 'pdf', paper: 'a4' },
  pdfLetter: { format: 'pdf', paper: 'letter' },
  csv: { format: 'csv' },
  json: { format: 'json' },
} as const;

/** The record in all its forms, and labels. */
export function Papers({ batch }: { batch: Batch }) {
  const texts = BATCH.papers;
  return (
    <Part title={texts.title} class="papers">
      <h3>{texts.record}</h3>
      <p class="actions">
        {(Object.keys(FORMATS) as (keyof typeof FORMATS)[]).map((name) => (
          <a
            key={name}
            class="button plain"
            href={recordHref(batch.id, FORMATS[name])}
            target="_blank"
            rel="noreferrer"
          >
            {texts.formats[name]}
          </a>
        ))}
      </p>
      <p class="quiet">{texts.recordHelp}</p>
      <h3>{texts.labels}</h3>
      <p class="actions">
        {(Object.keys(texts.label) as (keyof typeof texts.label)[]).map((what) => (
          <a
            key={what}
            class="button plain"
            href={labelHref(batch.id, { what, temperature: unit.value.toLowerCase() })}
            target="_blank"
            rel="noreferrer"
          >
            {inTheirWords(texts.label[what])}
          </a>
        ))}
      </p>
    </Part>
  );
}
