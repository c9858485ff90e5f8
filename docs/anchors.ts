/**
 * The anchors of a page's headings, as forges make them: small letters, what is neither letter, digit, space, hyphen
 * nor underscore left out, each space a hyphen, a number behind one that was there already.
 */
export function anchorMaker(): (heading: string) => string {
  const times = new Map<string, number>();
  return (heading) => {
    const anchor = heading
      .toLowerCase()
      .replace(/[^\p{L}\p{N}\p{M} _-]/gu, '')
      .trim()
      .replaceAll(' ', '-');
    const before = times.get(anchor) ?? 0;
    times.set(anchor, before + 1);
    return before === 0 ? anchor : `${anchor}-${before}`;
  };
}
