import type { PhotographWhat } from '../../shared/wire/entries.ts';
import type { Stage } from '../../shared/wire/names.ts';
import type { BatchRecord } from '../../shared/wire/record.ts';
import { STAGE_NAMES } from '../../shared/words/stages.ts';
import { shortId, time } from './text.ts';

/** The picture with a hash; null where the store has not got it as it was taken in. */
export type PictureOf = (sha256: string) => Uint8Array | null;

/** A photograph of a record, and what stands below it. */
export interface Shot {
  what: PhotographWhat;
  /** Which, when, who, where, and what it shows. */
  caption: string;
  /** What the file is. */
  file: string;
}

export const shotsOf = ({ batch }: BatchRecord): Shot[] =>
  batch.entries.flatMap(({ id, at, by, vessel, stage, what, correctedBy }) => {
    if (what.kind !== 'photograph') return [];
    const corrected = correctedBy === null ? '' : ` (corrected by ${shortId(correctedBy)})`;
    const text = what.text === '' ? '' : `: ${what.text}`;
    const kind = what.type === 'image/jpeg' ? 'JPEG' : 'PNG';
    const caption = `No. ${shortId(id)}, ${time(at)}, ${by}, ${vessel}, ${STAGE_NAMES[stage as Stage] ?? stage}${corrected}${text}`;
    const file = `${kind}, ${what.width} × ${what.height}, ${what.bytes} bytes, SHA-256 ${what.sha256}`;
    return [{ what, caption, file }];
  });

/** A picture as it goes into a record, and how many bytes it takes there. */
export interface Prepared {
  picture: Buffer;
  bytes: number;
}

/** A photograph with its picture, or why that is left out. */
export type Placed = { shot: Shot } & ({ picture: Buffer } | { why: string });

/**
 * Which pictures go in, in their order, as long as all together take no more than `room` bytes: one that has no
 * room leaves it to smaller ones. `prepare` gives null for one that cannot be drawn.
 */
export async function placePictures(
  shots: readonly Shot[],
  pictureOf: PictureOf,
  room: number,
  prepare: (bytes: Buffer, what: PhotographWhat) => Promise<Prepared | 'no-room' | null> | Prepared,
): Promise<Placed[]> {
  const placed: Placed[] = [];
  let left = room;
  for (const shot of shots) {
    const put = async (): Promise<{ picture: Buffer } | { why: string }> => {
      if (shot.what.bytes > left) return NO_ROOM;
      const found = pictureOf(shot.what.sha256);
      if (found === null) return { why: 'is not in the store as it was taken in' };
      const prepared = await prepare(Buffer.from(found.buffer, found.byteOffset, found.length), shot.what);
      if (prepared === null) return { why: 'cannot be drawn' };
      if (prepared === 'no-room' || prepared.bytes > left) return NO_ROOM;
      left -= prepared.bytes;
      return { picture: prepared.picture };
    };
    placed.push({ shot, ...(await put()) });
  }
  return placed;
}

const NO_ROOM = { why: 'is too large to be in here beside the others' };

/** What stands for a picture that is left out. */
export const leftOutLine = ({ caption, file }: Shot, why: string): string =>
  `${caption}. This picture ${why}: ${file}.`;
