import { seeded } from './random.js';

/**
 * A drawn face with known truth. It shares nothing with src: motion and oscillator are integrated here step
 * by step (fourth-order Runge–Kutta), shapers are written out again.
 */
export interface FaceRecipe {
  readonly widthMm: number;
  readonly heightMm: number;
  readonly layerHeightMm: number;
  readonly pxPerMm: number;
  readonly speedMmPerS: number;
  readonly accelerationMmPerS2: number;
  readonly cornerSpeedMmPerS: number;
  readonly naturalHz: number;
  readonly dampingRatio: number;
  /** ZV shaper on a linear ladder over the face's height; undefined: off. */
  readonly ladder?: { readonly fromHz: number; readonly toHz: number; readonly dampingRatio: number };
  /** The move along the wall is shaped like the one across it. */
  readonly wallShaped: boolean;
  /** Brightness for each unit of slope. */
  readonly gain: number;
  /** Relative noise of one pixel. */
  readonly noise: number;
  /** Stripes of fixed pitch. */
  readonly pitch?: { readonly pitchMm: number; readonly amplitude: number };
  readonly seed: number;
}

/** Linear light, row 0 at the top, column 0 at the leading corner. */
export interface DrawnFace {
  readonly light: Float32Array;
  readonly rows: number;
  readonly columns: number;
}

const STEP_S = 1e-4;

/**
 * Draws a face: brightness 1 + gain × slope of the wall, slow shading, stripes, noise.
 * @param recipe - What to draw.
 * @returns Its light.
 */
export function drawFace(recipe: FaceRecipe): DrawnFace {
  const random = seeded(recipe.seed);
  const rows = Math.round(recipe.heightMm * recipe.pxPerMm);
  const columns = Math.round(recipe.widthMm * recipe.pxPerMm);
  const layers = Math.round(recipe.heightMm / recipe.layerHeightMm);
  const light = new Float32Array(rows * columns);
  const byLayer = Array.from({ length: layers }, (_, layer) => layerLight(recipe, layer, layers, columns));
  for (let row = 0; row < rows; row += 1) {
    const heightMm = (rows - row - 0.5) / recipe.pxPerMm;
    const layer = Math.min(layers - 1, Math.floor(heightMm / recipe.layerHeightMm));
    const slopes = byLayer[layer]!;
    const shade = 0.5 * (1 + 0.15 * Math.sin((2 * heightMm) / recipe.heightMm + 1));
    for (let column = 0; column < columns; column += 1) {
      const x = column / columns;
      const value = slopes[column]! + recipe.noise * random.normal();
      light[row * columns + column] = Math.max(0.001, shade * (1 + 0.2 * x - 0.1 * x * x) * (1 + value));
    }
  }
  return { light, rows, columns };
}

/** Relative brightness of one layer along the wall, without shading. */
function layerLight(recipe: FaceRecipe, layer: number, layers: number, columns: number): Float64Array {
  const { ladder } = recipe;
  let impulses = [{ share: 1, lateS: 0 }];
  if (ladder !== undefined) {
    const hz = ladder.fromHz + ((ladder.toHz - ladder.fromHz) * layer) / (layers - 1);
    const root = Math.sqrt(1 - ladder.dampingRatio ** 2);
    const k = Math.exp((-Math.PI * ladder.dampingRatio) / root);
    impulses = [
      { share: 1 / (1 + k), lateS: 0 },
      { share: k / (1 + k), lateS: 1 / (2 * hz * root) },
    ];
  }
  const { speedMmPerS: v, cornerSpeedMmPerS: corner, accelerationMmPerS2: a } = recipe;
  const rampS = (v - corner) / a;
  const omega = 2 * Math.PI * recipe.naturalHz;
  // Commanded acceleration across the wall: braking from v to the corner speed until t = 0, then a stop.
  const across = (t: number): number => {
    let sum = 0;
    for (const { share, lateS } of impulses) {
      const own = t - lateS;
      if (own >= -rampS && own < 0) sum -= share * a;
    }
    return sum;
  };
  const along = (t: number): number => {
    let sum = 0;
    for (const { share, lateS } of recipe.wallShaped ? impulses : [{ share: 1, lateS: 0 }]) {
      const own = t - lateS;
      if (own >= 0) sum += share * Math.min(v, corner + a * own);
    }
    return sum;
  };
  const result = new Float64Array(columns);
  // State: how far the nozzle lags behind the command across the wall, and its rate.
  let lag = 0;
  let rate = 0;
  let s = 0;
  let column = 0;
  const stops = impulses.map(({ share, lateS }) => ({
    at: Math.round(lateS / STEP_S),
    drop: share * corner,
  }));
  const slope = (x: number, w: number, t: number): readonly [number, number] => [
    w,
    -2 * recipe.dampingRatio * omega * w - omega * omega * x - across(t),
  ];
  const first = -Math.ceil(rampS / STEP_S) - 2;
  for (let i = first; column < columns; i += 1) {
    const t = i * STEP_S;
    for (const stop of stops) if (stop.at === i) rate += stop.drop;
    const before = along(t);
    const [k1x, k1w] = slope(lag, rate, t);
    const [k2x, k2w] = slope(lag + (STEP_S / 2) * k1x, rate + (STEP_S / 2) * k1w, t + STEP_S / 2);
    const [k3x, k3w] = slope(lag + (STEP_S / 2) * k2x, rate + (STEP_S / 2) * k2w, t + STEP_S / 2);
    const [k4x, k4w] = slope(lag + STEP_S * k3x, rate + STEP_S * k3w, t + STEP_S);
    lag += (STEP_S / 6) * (k1x + 2 * k2x + 2 * k3x + k4x);
    rate += (STEP_S / 6) * (k1w + 2 * k2w + 2 * k3w + k4w);
    if (i < 0) continue;
    const after = s + (STEP_S * (before + along(t + STEP_S))) / 2;
    while (column < columns && (column + 0.5) / recipe.pxPerMm <= after) {
      const x = (column + 0.5) / recipe.pxPerMm;
      const speed = Math.max(along(t + STEP_S / 2), 0.3 * corner);
      const stripes =
        recipe.pitch === undefined
          ? 0
          : recipe.pitch.amplitude * Math.cos((2 * Math.PI * x) / recipe.pitch.pitchMm + 0.4);
      result[column] = recipe.gain * Math.max(-0.6, Math.min(0.6, rate / speed)) + stripes;
      column += 1;
    }
    s = after;
  }
  return result;
}
