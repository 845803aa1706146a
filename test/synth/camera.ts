import type { Random } from './random.js';

type Point = readonly [number, number];
type Vector = readonly [number, number, number];

/** A face in front of a pinhole camera with square pixels. */
export interface View {
  readonly widthMm: number;
  readonly heightMm: number;
  readonly sidesPx: Point;
  readonly focalPx: number;
  /** Where the lens's axis meets the sensor, px. */
  readonly axisPx: Point;
  /** Outward shift of a point at the photo's corner by the lens, share of its radius; it grows with the cube. */
  readonly lensAtCorner: number;
  /** The face is turned by this angle about an axis in its plane … */
  readonly obliquityRad: number;
  /** … which lies in this direction, and then about its normal. */
  readonly directionRad: number;
  readonly rollRad: number;
  /** Middle of the face in the camera's frame (x right, y down, z ahead), mm. */
  readonly middleMm: Vector;
}

/**
 * Where a point of the face comes out in the photo.
 * @param view - Camera and face.
 * @param xMm - From the face's left edge.
 * @param yMm - Down from its top edge.
 * @returns Px from the photo's top-left corner.
 */
function seen(view: View, xMm: number, yMm: number): Point {
  const rolled = turned([xMm - view.widthMm / 2, yMm - view.heightMm / 2, 0], view.rollRad);
  const [x, y] = turned(rolled, -view.directionRad);
  const [sine, cosine] = [Math.sin(view.obliquityRad), Math.cos(view.obliquityRad)];
  const tilted = turned([x, y * cosine, y * sine], view.directionRad);
  const z = tilted[2] + view.middleMm[2];
  const across = (view.focalPx * (tilted[0] + view.middleMm[0])) / z;
  const down = (view.focalPx * (tilted[1] + view.middleMm[1])) / z;
  const radius = Math.hypot(across, down) / (Math.hypot(...view.sidesPx) / 2);
  const stretch = 1 + view.lensAtCorner * radius ** 2;
  return [view.axisPx[0] + stretch * across, view.axisPx[1] + stretch * down];
}

function turned([x, y, z]: Vector, angleRad: number): Vector {
  const [sine, cosine] = [Math.sin(angleRad), Math.cos(angleRad)];
  return [cosine * x - sine * y, sine * x + cosine * y, z];
}

/** Film's diagonal, mm: by it a tag's 35-mm-equivalent focal length counts. Source: CIPA DCG-001 (from memory). */
const FILM_DIAGONAL_MM = Math.hypot(36, 24);

/** Whole pictures of cameras, px (common practice, no source). */
const SIDES: readonly Point[] = [
  [4032, 3024],
  [3024, 4032],
  [4000, 3000],
  [3264, 2448],
  [6000, 4000],
];

/**
 * A face of a tower as somebody might photograph it.
 * @param random - Where chance comes from.
 * @param mostObliqueDeg - Views are up to this far off square.
 * @returns The view, and the whole number that the camera writes as its focal length.
 */
export function drawView(
  random: Random,
  mostObliqueDeg: number,
): { readonly view: View; readonly tagMm: number } {
  const sidesPx = random.pick(SIDES);
  const tagMm = Math.round(random.logEven(20, 100));
  const diagonalPx = Math.hypot(...sidesPx);
  // Two conventions are 4 % apart, and the number is rounded.
  const focalPx = ((tagMm * diagonalPx) / FILM_DIAGONAL_MM) * random.even(0.96, 1.04);
  const widthMm = random.even(50, 110);
  const heightMm = random.even(35, 110);
  const fill = random.even(0.35, 0.8);
  const awayMm = Math.max(
    (widthMm * focalPx) / (fill * sidesPx[0]),
    (heightMm * focalPx) / (fill * sidesPx[1]),
  );
  const off = (sidePx: number) => random.even(-0.1, 0.1) * sidePx * (awayMm / focalPx);
  const axisOff = () => 0.005 * diagonalPx * random.normal();
  return {
    tagMm,
    view: {
      widthMm,
      heightMm,
      sidesPx,
      focalPx,
      axisPx: [sidesPx[0] / 2 + axisOff(), sidesPx[1] / 2 + axisOff()],
      lensAtCorner: 0.01 * random.normal(),
      obliquityRad: (random.even(0, mostObliqueDeg) * Math.PI) / 180,
      directionRad: random.even(0, 2 * Math.PI),
      rollRad: 0.05 * random.normal(),
      middleMm: [off(sidesPx[0]), off(sidesPx[1]), awayMm],
    },
  };
}

/**
 * Its corners as somebody clicks them: each off by the printed outline and by the hand.
 * @param view - Camera and face.
 * @param random - Where chance comes from.
 * @returns Top-left, top-right, bottom-right, bottom-left, px.
 */
export function clickedCorners(view: View, random: Random): [Point, Point, Point, Point] {
  const OUTLINE_MM = 0.15;
  const CLICK_PX = 2;
  const edge = () => OUTLINE_MM * random.normal();
  const [left, right] = [edge(), view.widthMm + edge()];
  const [top, bottom] = [edge(), view.heightMm + edge()];
  const click = (x: number, y: number): Point => {
    const [u, v] = seen(view, x, y);
    return [u + CLICK_PX * random.normal(), v + CLICK_PX * random.normal()];
  };
  return [click(left, top), click(right, top), click(right, bottom), click(left, bottom)];
}

/**
 * A window that somebody cuts out around the corners.
 * @param sidesPx - Of the whole picture.
 * @param corners - What must stay, px.
 * @param keepRatio - The window keeps the picture's ratio of sides.
 * @param random - Where chance comes from.
 * @returns Its top-left corner and sides in whole px, or undefined where the face leaves no room for it.
 */
export function drawCrop(
  sidesPx: Point,
  corners: readonly Point[],
  keepRatio: boolean,
  random: Random,
): { readonly from: Point; readonly sidesPx: Point } | undefined {
  const share = random.even(0.45, 0.95);
  const across = Math.round(share * sidesPx[0]);
  const down = Math.round((keepRatio ? share : random.even(0.45, 0.95)) * sidesPx[1]);
  const place = (axis: 0 | 1, side: number): number | undefined => {
    const values = corners.map((corner) => corner[axis]);
    const low = Math.max(0, Math.max(...values) + 20 - side);
    const high = Math.min(sidesPx[axis] - side, Math.min(...values) - 20);
    return low > high ? undefined : Math.round(random.even(low, high));
  };
  const [left, top] = [place(0, across), place(1, down)];
  return left === undefined || top === undefined ? undefined : { from: [left, top], sidesPx: [across, down] };
}
