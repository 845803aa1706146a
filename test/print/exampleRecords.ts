/** The print record of the design's own example, every group of fields filled in. */
export const DEMO_RECORD = {
  schema: 'stillband/print-record@1',
  machine: 'north bench 3',
  printedOn: '2026-03-14',
  material: 'white, satin',
  title: 'after new belts',
  axis: 'Y',
  speedMmPerS: 110,
  accelerationMmPerS2: 6000,
  cornerSpeedMmPerS: 6,
  layerHeightMm: 0.2,
  layers: 320,
  seam: 'other-face',
  direction: 'same',
  face: { widthMm: 84, heightMm: 64, bottomMm: 0, leadingCorner: 'left' },
  shaper: { family: 'ZV', dampingRatio: 0.08, hzMeans: 'natural', alongWall: 'as-ladder' },
  ladder: { kind: 'linear', fromHz: 18, toHz: 66, firstLayer: 4, lastLayer: 319 },
  reference: { kind: 'id1-card', behindFaceMm: 0 },
  knownPitchesMm: [2],
};

/** The demo record, typed on a command line. */
export const DEMO_FLAGS = {
  machine: 'north bench 3',
  printedOn: '2026-03-14',
  material: 'white, satin',
  title: 'after new belts',
  axis: 'Y',
  speed: '110',
  acceleration: '6000',
  cornerSpeed: '6',
  layerHeight: '0.2',
  layers: '320',
  seam: 'other-face',
  direction: 'same',
  faceWidth: '84',
  faceHeight: '64',
  faceBottom: '0',
  leadingCorner: 'left',
  shaper: 'ZV',
  damping: '0.08',
  hzMeans: 'natural',
  alongWall: 'as-ladder',
  ladder: 'linear',
  fromHz: '18',
  toHz: '66',
  firstLayer: '4',
  lastLayer: '319',
  reference: 'id1-card',
  behindFace: '0',
  knownPitches: '2',
};

/** The least that a record must say. */
export const SHORT_RECORD = {
  schema: 'stillband/print-record@1',
  axis: 'X',
  speedMmPerS: 100,
  layerHeightMm: 0.2,
  face: { leadingCorner: 'right' },
  ladder: { kind: 'fixed', hz: 40 },
};

/** The record of a simulated photo: tower, speeds, ladder and reference differ. */
function photographed(
  title: string,
  [axis, leadingCorner]: readonly [string, string],
  [speedMmPerS, accelerationMmPerS2, cornerSpeedMmPerS]: readonly [number, number, number],
  [widthMm, heightMm, layers]: readonly [number, number, number],
  rest: object,
): object {
  return {
    schema: 'stillband/print-record@1',
    title,
    axis,
    speedMmPerS,
    accelerationMmPerS2,
    cornerSpeedMmPerS,
    layerHeightMm: 0.2,
    layers,
    face: { widthMm, heightMm, leadingCorner },
    ...rest,
  };
}

function climbing(fromHz: number, toHz: number, firstLayer: number, lastLayer: number, dampingRatio: number) {
  return {
    ladder: { kind: 'linear', fromHz, toHz, firstLayer, lastLayer },
    shaper: { family: 'ZV', dampingRatio, hzMeans: 'natural', alongWall: 'as-ladder' },
  };
}

/** The records of the six simulated photographs in testimages. */
export const PHOTO_RECORDS: readonly object[] = [
  photographed('black-markers', ['X', 'right'], [120, 7000, 9], [90, 70, 350], {
    ...climbing(20, 70, 3, 349, 0.1),
    reference: { kind: 'marker-card', behindFaceMm: 0 },
  }),
  photographed('blue-markers', ['Y', 'left'], [100, 5000, 7], [80, 50, 250], {
    ladder: { kind: 'off' },
    reference: { kind: 'marker-card', behindFaceMm: 0 },
  }),
  photographed('orange-card-set-back', ['X', 'left'], [130, 7000, 10], [90, 80, 400], {
    ...climbing(25, 80, 2, 399, 0.08),
    reference: { kind: 'id1-card', behindFaceMm: 30 },
  }),
  photographed('red-ruler', ['Y', 'left'], [80, 3000, 5], [100, 66, 330], {
    ...climbing(14, 55, 3, 329, 0.05),
    reference: { kind: 'ruler', behindFaceMm: 0 },
    slots: [{ centreFromLeadingCornerMm: 58, widthMm: 2 }],
  }),
  photographed('silver-face-only', ['X', 'right'], [90, 6500, 8], [70, 75, 375], {
    ...climbing(22, 75, 5, 374, 0.05),
    reference: { kind: 'face' },
  }),
  photographed('white-card', ['Y', 'left'], [110, 6000, 6], [84, 64, 320], {
    ...climbing(18, 66, 4, 319, 0.08),
    reference: { kind: 'id1-card', behindFaceMm: 0 },
  }),
];

/**
 * A record with one field changed.
 * @param record - Plain data; not modified.
 * @param path - Like `face.widthMm`; parents must exist.
 * @param value - The new value; undefined takes the field away.
 * @returns A changed copy.
 */
export function changed(record: object, path: string, value: unknown): Record<string, unknown> {
  const copy = structuredClone(record) as Record<string, unknown>;
  const keys = path.split('.');
  const last = keys.pop()!;
  const parent = keys.reduce((inner, key) => inner[key] as Record<string, unknown>, copy);
  if (value === undefined) Reflect.deleteProperty(parent, last);
  else parent[last] = value;
  return copy;
}
