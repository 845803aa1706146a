import type { FoundReference } from '../../src/face/reference.js';
import { applyHomography, homographyFromPoints } from '../../src/imaging/homography.js';
import { seeded } from '../synth/random.js';
import type { Pixel } from '../synth/scene/camera.js';
import { compose } from '../synth/scene/compose.js';
import { drawScene, type DrawnScene, type SceneTruth } from '../synth/scene/drawScene.js';
import { withPrintedCard, type CardPrint } from '../synth/scene/printedCard.js';

/**
 * Draws a tower with a printed card held flush beside it.
 * @param seed - Which scene.
 * @param print - The card.
 * @param widthPx - How wide the card is to be in the photo, px.
 * @returns The photograph, or undefined where card or tower would not be in full view.
 */
export async function drawCardScene(
  seed: number,
  print: CardPrint,
  widthPx: number,
): Promise<DrawnScene | undefined> {
  const { scene } = compose(seed, 'plain');
  const random = seeded(seed * 16 + 15);
  const hold = { leanRad: random.even(-0.12, 0.12), side: random.pick([-1, 1] as const), widthPx };
  const changed = withPrintedCard(scene, print, hold);
  return changed && drawScene(seed, 'plain', () => changed);
}

/**
 * The scale that a card tells in the plane of the face.
 * @param card - The card, its points as it tells them.
 * @param truth - The scene's.
 * @returns Millimetres of the card for each true one; 1 is right. The lens and the plane are the truth's, the distances of
 * the card's points from their middle are what is compared, as an Umeyama fit does.
 */
export function scaleByCard({ points }: Pick<FoundReference, 'points'>, truth: SceneTruth): number {
  const { focalPx, k1 } = truth.camera;
  const [cx, cy] = [truth.sidesPx[0] / 2, truth.sidesPx[1] / 2];
  // r_d = r (1 + k1 r²) undone by fixed-point steps, apart from the product's lens.
  const straight = ([x, y]: Pixel): Pixel => {
    const [dx, dy] = [(x - cx) / focalPx, (y - cy) / focalPx];
    let stretch = 1;
    for (let i = 0; i < 50; i += 1) stretch = 1 + (k1 * (dx * dx + dy * dy)) / stretch ** 2;
    return [cx + (focalPx * dx) / stretch, cy + (focalPx * dy) / stretch];
  };
  const { widthMm: w, heightMm: h } = truth.face!.recipe;
  const corners: readonly Pixel[] = [
    [0, 0],
    [w, 0],
    [w, h],
    [0, h],
  ];
  const toMm = homographyFromPoints(truth.cornersPx!.map(straight), corners);
  const seen = points.map(({ px }) => applyHomography(toMm, ...straight(px)));
  return spreadOf(points.map(({ mm }) => mm)) / spreadOf(seen);
}

/** Root of the sum of squared distances from the middle. */
function spreadOf(points: readonly Pixel[]): number {
  const mean = (axis: 0 | 1) => points.reduce((sum, point) => sum + point[axis], 0) / points.length;
  const [x, y] = [mean(0), mean(1)];
  return Math.sqrt(points.reduce((sum, point) => sum + (point[0] - x) ** 2 + (point[1] - y) ** 2, 0));
}
