import { boilingNear } from './boiling-near.ts';
import { boilingReached } from './boiling-reached.ts';
import { mixingStopped } from './mixing-stopped.ts';
import { probeJump } from './probe-jump.ts';
import { probeOutOfRange } from './probe-out-of-range.ts';
import { reactionShort } from './reaction-short.ts';
import { readingLate } from './reading-late.ts';
import type { Rule } from './rule.ts';
import { settlingShort } from './settling-short.ts';
import { tooHotToDose } from './too-hot-to-dose.ts';

/** Every rule, in the order in which they judge one input. */
export const RULES: readonly Rule[] = [
  probeOutOfRange,
  probeJump,
  readingLate,
  boilingReached,
  boilingNear,
  tooHotToDose,
  mixingStopped,
  reactionShort,
  settlingShort,
];
