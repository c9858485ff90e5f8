import { expect, test, vi } from 'vitest';
import { LOST_AFTER_MS } from '../../dashboard/link.ts';
import { tabOf } from '../../dashboard/tab.ts';
import { PRIORITY_WORDS, TEXTS } from '../../dashboard/texts/live.ts';
import type { Alarm } from '../../shared/wire/api.ts';

const alarm: Alarm = {
  id: 'a1',
  alarm: 'boiling-near',
  event: 'raised',
  site: 'shed',
  vessel: 'r1',
  at: '2026-03-02T10:15:00.000Z',
  priority: 'high',
  late: false,
  value: 61.8,
  limit: 61.5,
  because: 'Oil at 61.8 °C.',
  todo: 'Turn the heat off.',
  facts: {},
  explainedBy: null,
  told: true,
  clearedAt: null,
  standing: true,
  acknowledged: null,
  shelved: null,
};

test('a page that never had a link says so on its tab', async () => {
  // A page of its own: others, in the same process, have had one, or were shut.
  vi.resetModules();
  const store = await import('../../dashboard/store.ts');
  const { showOnTab } = await import('../../dashboard/tab.ts');
  const icon = { href: './mark.svg' };
  const link = {
    getAttribute: () => icon.href,
    setAttribute: (_: string, href: string) => {
      icon.href = href;
    },
  };
  const page = { title: '', querySelector: () => link };
  vi.stubGlobal('document', page);
  try {
    showOnTab();
    expect(icon.href).toBe('./mark.svg');
    vi.spyOn(performance, 'now').mockReturnValue(performance.now() + LOST_AFTER_MS);
    store.tick();
    showOnTab();
    expect(page.title).toContain(TEXTS.link.neverLive);
    expect(icon.href).toBe('./icon-not-live.svg');
  } finally {
    vi.unstubAllGlobals();
    vi.restoreAllMocks();
  }
});

test('the gravest alarm stays on the tab once the link is lost', () => {
  const lost = tabOf(alarm, TEXTS.link.lost('10:20'));
  expect(lost.icon).toBe('icon-not-live');
  expect(lost.title).toContain(TEXTS.link.lost('10:20'));
  expect(lost.title).toContain(PRIORITY_WORDS.high);
  expect(tabOf(alarm, undefined).icon).toBe('icon-high');
  const asked = tabOf(alarm, undefined, 'Are you well?');
  expect(asked.title).toMatch(/^Are you well\?/);
  expect(asked.title).toContain(PRIORITY_WORDS.high);
  expect(tabOf(undefined, undefined, 'Are you well?').icon).toBe('icon-high');
  expect(tabOf(undefined, undefined)).toEqual({ title: TEXTS.product, icon: 'mark' });
});
