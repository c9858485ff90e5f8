import { expect, test } from 'vitest';
import { besideHref, hrefOf, idHref, routeOf, vesselHref } from '../../dashboard/route.ts';

test.for([
  '',
  '#',
  '#/',
  '#/nowhere',
  '#/vessel/shed',
  '#/vessel/Shed/r1',
  '#/vessel/shed/<b>',
  '#/batch/',
  '#/batch/%E0',
  '#/beside/one',
])('what names no page, %s, is the overview', (hash) => {
  expect(routeOf(hash).page).toBe('overview');
});

test('the address of a page leads there, whatever an id holds', () => {
  expect(routeOf(hrefOf('recipe', { batch: 'a&b' }))).toMatchObject({ page: 'recipe' });
  expect(routeOf(hrefOf('recipe', { batch: 'a&b' })).query.get('batch')).toBe('a&b');
  expect(routeOf(vesselHref({ site: 'shed', vessel: 'r1' }))).toMatchObject({
    page: 'vessel',
    key: 'shed:r1',
  });
  expect(routeOf(vesselHref({ site: 'shed', vessel: 'r1' }, 'wall'))).toMatchObject({ page: 'wall' });
  const id = 'shed:r1:boiling near/1?x';
  expect(routeOf(idHref('alarm', id))).toMatchObject({ page: 'alarm', id });
  expect(routeOf(besideHref('a/b', 'c d'))).toMatchObject({ page: 'beside', ids: ['a/b', 'c d'] });
});
