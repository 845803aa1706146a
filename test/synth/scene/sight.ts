import { project, type Camera } from './camera.js';
import type { SceneKind } from './kinds.js';
import { isBlocked, type Solid } from './light.js';
import type { PlacedReference, PlacedTower } from './placing.js';
import { inFrame, minus, type Frame, type Vector } from './vector.js';

const GRID = 9;

/** Points all over a rectangle, just in front of it. */
function gridOn(frame: Frame, widthMm: number, heightMm: number): readonly Vector[] {
  return Array.from({ length: GRID * GRID }, (_, i) =>
    inFrame(frame, [
      ((i % GRID) / (GRID - 1)) * widthMm,
      (Math.floor(i / GRID) / (GRID - 1)) * heightMm,
      0.5,
    ]),
  );
}

/**
 * Points all over a tower's face.
 * @param placed - The tower.
 */
export function pointsOnFace({ plan, frame }: PlacedTower): readonly Vector[] {
  return gridOn(frame, plan.recipe.widthMm, plan.recipe.heightMm);
}

/**
 * Points all over a reference; of a ruler its first ten centimetres.
 * @param placed - The reference.
 */
export function pointsOnReference({ object, frame }: PlacedReference): readonly Vector[] {
  return gridOn(frame, object.widthMm, Math.min(object.heightMm, 100));
}

/**
 * How many of some points something hides from the camera.
 * @param solids - What may stand in the way.
 * @param camera - The camera.
 * @param points - The points.
 * @returns Their share, 0 to 1.
 */
export function hiddenShare(solids: readonly Solid[], camera: Camera, points: readonly Vector[]): number {
  const hidden = points.filter((point) => isBlocked(solids, point, minus(camera.positionMm, point)));
  return hidden.length / points.length;
}

/**
 * Whether two things stand in the same place, by circles about them on the desk.
 * @param solids - One.
 * @param others - The other.
 */
export function meets(solids: readonly Solid[], others: readonly Solid[]): boolean {
  const circle = (solid: Solid): readonly [number, number, number] => {
    if (solid.shape === 'cylinder') return [solid.footMm[0], solid.footMm[2], solid.radiusMm];
    const [w, , d] = solid.sizesMm;
    const middle = inFrame(solid.frame, [w / 2, 0, d / 2]);
    return [middle[0], middle[2], Math.hypot(w, d) / 2];
  };
  return solids.some((one) =>
    others.some((other) => {
      const [a, b] = [circle(one), circle(other)];
      return Math.hypot(a[0] - b[0], a[1] - b[1]) < 0.9 * (a[2] + b[2]);
    }),
  );
}

/**
 * Whether a point comes out within the picture.
 * @param camera - The camera.
 * @param point - The point.
 * @param margin - Share of the picture's sides that must be left.
 */
export function isInPicture(camera: Camera, point: Vector, margin: number): boolean {
  const pixel = project(camera, point);
  if (pixel === undefined) return false;
  return pixel.every((value, axis) => {
    const side = camera.sidesPx[axis as 0 | 1];
    return value > margin * side && value < (1 - margin) * side;
  });
}

/**
 * Whether faces and reference are within the frame and in full view; a face to be cut is cut by a tenth to a half, and a
 * card to be covered is covered by a twentieth to a third.
 * @param kind - What the scene is drawn for.
 * @param camera - The camera.
 * @param towers - Towers whose faces must be seen.
 * @param reference - The reference.
 * @param solids - All that may hide them.
 */
export function fits(
  kind: SceneKind,
  camera: Camera,
  towers: readonly PlacedTower[],
  reference: PlacedReference | undefined,
  solids: readonly Solid[],
): boolean {
  if (towers.some((one) => hiddenShare(solids, camera, pointsOnFace(one)) > 0)) return false;
  if (reference !== undefined) {
    const hidden = hiddenShare(solids, camera, pointsOnReference(reference));
    if (kind === 'card-partly-covered' ? hidden < 0.05 || hidden > 0.35 : hidden > 0) return false;
  }
  if (kind === 'cut-by-frame') {
    const points = towers.flatMap(pointsOnFace);
    const out = points.filter((point) => !isInPicture(camera, point, 0)).length / points.length;
    return out > 0.1 && out < 0.5;
  }
  return (
    towers.every((one) => faceCorners(one).every((corner) => isInPicture(camera, corner, 0.015))) &&
    (reference === undefined || referencePoints(reference).every((point) => isInPicture(camera, point, 0.01)))
  );
}

/**
 * Corners of a tower's nominal face: top-left, top-right, bottom-right, bottom-left as printed.
 * @param placed - The tower.
 */
export function faceCorners({ plan, frame }: PlacedTower): readonly [Vector, Vector, Vector, Vector] {
  const { widthMm: w, heightMm: h } = plan.recipe;
  return [
    inFrame(frame, [0, h, 0]),
    inFrame(frame, [w, h, 0]),
    inFrame(frame, [w, 0, 0]),
    inFrame(frame, [0, 0, 0]),
  ];
}

/** What must be in the picture: a card's whole outline, the first six centimetres of a ruler. */
function referencePoints({ object, frame }: PlacedReference): readonly Vector[] {
  const points =
    object.kind === 'ruler' ? object.points.slice(0, 6).map((point) => point.at) : object.outline;
  return points.map(([x, y]) => inFrame(frame, [x, y, 0]));
}
