import { readdirSync } from 'node:fs';
import { expect, test } from 'vitest';
import { FORMULAS } from '../../../shared/chemistry/catalogue.ts';

const folder = new URL('../../../shared/chemistry/', import.meta.url);

test('has every formula of the folder once, by the name it is exported under', async () => {
  const exported: [string, unknown][] = [];
  for (const file of readdirSync(folder)) {
    const exports: Record<string, unknown> = await import(new URL(file, folder).pathname);
    exported.push(...Object.entries(exports).filter(([, value]) => isFormula(value)));
  }
  const catalogued = Object.values(FORMULAS).flatMap((formulas) => Object.entries<unknown>(formulas));

  expect(exported.length).toBeGreaterThan(0);
  expect(catalogued.map(([name]) => name).sort()).toEqual(exported.map(([name]) => name).sort());
  const byName = new Map(exported);
  for (const [name, formula] of catalogued) expect(formula, name).toBe(byName.get(name));
});

const isFormula = (value: unknown): boolean => typeof value === 'function' && 'gives' in value;
