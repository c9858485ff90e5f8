import type { Route } from '../../route.ts';
import { alarms, vessels } from '../../store.ts';
import { ALARM_TEXTS } from '../../texts/alarms.ts';
import { AlarmList } from '../../views/alarms.tsx';
import { Measures } from './measures.tsx';
import { Past } from './past.tsx';
import './alarms.css';

/** The alarms of all vessels: what stands, what was, and how many a person is asked to bear. */
export const AlarmsPage = ({ route }: { route: Route }) => (
  <div class="alarms-page">
    <h1>{ALARM_TEXTS.title}</h1>
    <section class="standing-alarms" aria-label={ALARM_TEXTS.standing}>
      <h2>{ALARM_TEXTS.standing}</h2>
      {vessels.value !== undefined && alarms.value.length === 0 && (
        <p class="quiet">{ALARM_TEXTS.noneStanding}</p>
      )}
      <AlarmList alarms={alarms.value} named />
    </section>
    <Past query={route.query} />
    <Measures />
  </div>
);
