import { expect, test } from 'vitest';
import { apart } from '../../src/page/labels.js';

test('words over a photo do not cover one another; those that stand free keep their places', () => {
  const labels = [
    { text: 'card', x: 100, y: 100, sizePx: 13 },
    { text: '1', x: 101, y: 102, sizePx: 18 },
    { text: '2', x: 99, y: 98, sizePx: 18 },
    { text: '3', x: 400, y: 100, sizePx: 18 },
  ];
  const [card, one, two, three] = apart(labels);
  expect([card, three]).toEqual([labels[0], labels[3]]);
  expect(one!.y - card!.y).toBeGreaterThanOrEqual(15);
  expect(two!.y - one!.y).toBeGreaterThanOrEqual(18);
});
