import type { RouteParts } from './routes.ts';

/** The daemon's figures as OpenMetrics text. */
export function metricsText({
  watch,
  recorder,
  refused,
  viewers,
  broker,
  arrivals,
  forward,
  centre,
}: RouteParts): string {
  const oldest = recorder.oldestWaitingMs();
  const alarms = watch
    .sites()
    .flatMap(({ state }) => Object.values(state.vessels))
    .reduce((count, vessel) => count + Object.keys(vessel.alarms).length, 0);
  return [
    ...metric('esterwatch_vessels', 'gauge', 'Vessels known', watch.vesselCount()),
    ...metric('esterwatch_alarms_standing', 'gauge', 'Alarms that stand', alarms),
    ...metric(
      'esterwatch_readings_stored',
      'counter',
      'Readings committed since the start',
      watch.storedReadings,
    ),
    ...metric('esterwatch_refused', 'counter', 'Publications refused since the start', refused.total),
    ...metric('esterwatch_viewers', 'gauge', 'Pages that look on', viewers.count),
    ...metric(
      'esterwatch_broker_connected',
      'gauge',
      'Whether the broker is reached',
      broker().connected ? 1 : 0,
    ),
    ...metric(
      'esterwatch_store_failing',
      'gauge',
      'Whether the store refuses',
      recorder.failure === null ? 0 : 1,
    ),
    ...metric(
      'esterwatch_oldest_unstored_seconds',
      'gauge',
      'Age of the oldest thing not committed yet',
      oldest === null ? 0 : Math.max(0, arrivals.nowMs() - oldest) / 1000,
    ),
    ...metric(
      'esterwatch_forward_failing',
      'gauge',
      'Sites that do not go over to the centre now',
      forward()?.sites.filter(({ because }) => because !== null).length ?? 0,
    ),
    ...metric(
      'esterwatch_forwarded_sites',
      'gauge',
      'Sites that other daemons forward to this one',
      centre.sites().length,
    ),
    ...metric(
      'esterwatch_forwarded_sites_old',
      'gauge',
      'Those of which what is shown is older than a minute',
      centre.sites().filter(({ age }) => age?.live !== true).length,
    ),
    '# EOF\n',
  ].join('\n');
}

const metric = (name: string, type: 'gauge' | 'counter', help: string, value: number): string[] => [
  `# TYPE ${name} ${type}`,
  `# HELP ${name} ${help}.`,
  `${name}${type === 'counter' ? '_total' : ''} ${value}`,
];
