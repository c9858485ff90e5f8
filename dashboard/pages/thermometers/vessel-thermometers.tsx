import { THERMOMETERS } from '../../texts/thermometers.ts';
import '../set-up/set-up.css';
import { Thermometers } from './thermometers.tsx';

/** The thermometers of one vessel, on its own page. */
export function VesselThermometers({ vesselKey }: { vesselKey: string }) {
  return (
    <section class="typed">
      <h2>{THERMOMETERS.title}</h2>
      <Thermometers key={vesselKey} vesselKey={vesselKey} />
    </section>
  );
}
