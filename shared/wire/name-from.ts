/** The longest name of the wire, characters. */
export const LONGEST_NAME = 40;

/** A name of the wire from what a thing is called: 'Garden shed' is garden-shed. Undefined where nothing is left. */
export function nameFrom(text: string): string | undefined {
  const name = text
    .normalize('NFKD')
    .toLowerCase()
    .replace(/\p{M}/gu, '')
    .replace(/[^a-z0-9]+/g, '-')
    .replace(/^-+/, '')
    .slice(0, LONGEST_NAME)
    .replace(/-+$/, '');
  return name === '' ? undefined : name;
}
