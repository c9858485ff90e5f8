import type { AccessNote } from '../../../shared/wire/access.ts';
import { type KnownPerson, RIGHTS, type Right } from '../../../shared/wire/session.ts';
import { PEOPLE, RIGHT_WORDS } from '../../texts/people.ts';

/** Rights and what was noted of them, in words; pure. */

export const rightsSaid = (rights: readonly Right[]): string =>
  RIGHTS.filter((right) => rights.includes(right))
    .map((right) => RIGHT_WORDS[right])
    .join('; ');

/** Whether nobody could set up people any more without them. */
export const isOnlyKeeper = (people: readonly KnownPerson[], name: string): boolean =>
  people.some((one) => one.name === name && one.rights.includes('keep')) &&
  !people.some((one) => one.name !== name && one.rights.includes('keep'));

/** Of a name that differs by no more than its letters' size or the blanks around it nobody could tell whose it is. */
export const isTaken = (names: readonly string[], name: string): boolean =>
  names.some((one) => one.trim().toLowerCase() === name.trim().toLowerCase());

/** As the history keeps rights: a list with commas. */
const rightsFrom = (may: string): string => {
  const parts = may.split(',');
  return rightsSaid(RIGHTS.filter((right) => parts.includes(right)));
};

export function noteSaid(note: AccessNote): string {
  const texts = PEOPLE.noted;
  switch (note.what) {
    case 'signed-in':
      return texts.signedIn(note.by, note.from);
    case 'signed-out':
      return texts.signedOut(note.by);
    case 'sign-in-refused':
      if (note.tooMany)
        return note.person === null ? texts.tooMany(note.from) : texts.tooManyAt(note.person, note.from);
      return note.person === null ? texts.refusedUnknown(note.from) : texts.refused(note.person, note.from);
    case 'access-changed': {
      const { by, kind, name, may } = note;
      if (may === null) return texts[`${kind}Gone`](by, name);
      return texts[kind](by, name, kind === 'device' || kind === 'forwarder' ? may : rightsFrom(may));
    }
  }
}
