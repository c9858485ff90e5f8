/** What led to the form on this page, where it was no mere sign-out: said in it once. */
export interface Brought {
  name: string;
  why: 'first' | 'changed';
}
let brought: Brought | undefined;

export const bring = (what: Brought): void => {
  brought = what;
};

export const takeBrought = (): Brought | undefined => {
  const taken = brought;
  brought = undefined;
  return taken;
};
