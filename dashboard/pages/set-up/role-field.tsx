import type { Signal } from '@preact/signals';
import { useId } from 'preact/hooks';
import { ROLES, type Role } from '../../../shared/wire/names.ts';
import { ROLE_NAMES } from '../../texts/set-up.ts';

/** What a vessel is. */
export function RoleField({ label, role }: { label: string; role: Signal<Role> }) {
  const id = useId();
  return (
    <div class="field">
      <label for={id}>{label}</label>
      <select
        id={id}
        value={role.value}
        onChange={(event) => {
          role.value = event.currentTarget.value as Role;
        }}
      >
        {ROLES.map((one) => (
          <option key={one} value={one}>
            {ROLE_NAMES[one]}
          </option>
        ))}
      </select>
    </div>
  );
}
