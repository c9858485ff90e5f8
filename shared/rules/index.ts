import { boilingAhead } from './boiling-ahead.ts';
import { boilingNear } from './boiling-near.ts';
import { boilingReached } from './boiling-reached.ts';
import { condenserWarm } from './condenser-warm.ts';
import { couplingLost } from './coupling-lost.ts';
import { deviceGone } from './device-gone.ts';
import { heatNotSeen } from './heat-not-seen.ts';
import { heaterOnDraining } from './heater-on-draining.ts';
import { heaterStuck } from './heater-stuck.ts';
import { methoxideHot } from './methoxide-hot.ts';
import { methoxideShort } from './methoxide-short.ts';
import { methoxideWarmToDose } from './methoxide-warm-to-dose.ts';
import { mixingSlow } from './mixing-slow.ts';
import { mixingStopped } from './mixing-stopped.ts';
import { motorStalled } from './motor-stalled.ts';
import { notWatching } from './not-watching.ts';
import { oilOverheated } from './oil-overheated.ts';
import { probeFrozen } from './probe-frozen.ts';
import { probeJump } from './probe-jump.ts';
import { probeOutOfRange } from './probe-out-of-range.ts';
import { probesDisagree } from './probes-disagree.ts';
import { reactionCold } from './reaction-cold.ts';
import { reactionShort } from './reaction-short.ts';
import { readingLate } from './reading-late.ts';
import { recoverOverheated } from './recover-overheated.ts';
import { restartHot } from './restart-hot.ts';
import { risingFast } from './rising-fast.ts';
import type { Rule } from './rule.ts';
import { settlingDisturbed } from './settling-disturbed.ts';
import { settlingShort } from './settling-short.ts';
import { tooHotToDose } from './too-hot-to-dose.ts';
import { twoDevices } from './two-devices.ts';
import { vapourHigh } from './vapour-high.ts';

/** Every rule, in the order in which they judge one input: causes before what follows from them. */
export const RULES: readonly Rule[] = [
  probeOutOfRange,
  twoDevices,
  probeJump,
  deviceGone,
  readingLate,
  boilingReached,
  boilingNear,
  boilingAhead,
  tooHotToDose,
  methoxideWarmToDose,
  methoxideShort,
  methoxideHot,
  risingFast,
  oilOverheated,
  condenserWarm,
  recoverOverheated,
  heaterStuck,
  heaterOnDraining,
  heatNotSeen,
  probeFrozen,
  motorStalled,
  mixingStopped,
  couplingLost,
  mixingSlow,
  restartHot,
  reactionCold,
  probesDisagree,
  settlingDisturbed,
  reactionShort,
  settlingShort,
  vapourHigh,
  notWatching,
];
