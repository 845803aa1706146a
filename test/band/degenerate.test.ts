import ndarray from 'ndarray';
import { describe, expect, it } from 'vitest';
import { drawn, measurePlaced, RECIPE } from '../helpers/drawn.js';

const { face, settings } = drawn({ ...RECIPE, gain: 0 });

/** What becomes of a face of one even light, or of another height. */
function decide(light: number, heightMm = face.heightMm): string {
  const [rows, columns] = face.image.shape as [number, number];
  const keep = Math.max(1, Math.round((rows * heightMm) / face.heightMm));
  const image = ndarray(new Float32Array(keep * columns).fill(light), [keep, columns]);
  const { decision } = measurePlaced({ face: { ...face, image, heightMm }, settings });
  return decision.proposal.state === 'refused' ? decision.proposal.reason : decision.proposal.state;
}

describe('a face that shows nothing is refused, not a failure', () => {
  it.each([0, 0.3, 1])('even light %f', (light) => {
    expect(decide(light)).toBe('no-ringing');
  });
  it('a face 0.2 mm high', () => {
    expect(decide(0.5, 0.2)).toBe('no-ringing');
  });
});
