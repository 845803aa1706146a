import { COVERAGE_95, type Estimate } from '../../src/core/estimate.js';
import { MUST_REFUSE, WRONG_SETTINGS, type FaceKind } from '../../test/synth/population.js';
import { FUSIONS, type FusionOutcome } from './fusion.js';
import type { FaceOutcome } from './measureCase.js';
import type { Truth } from '../../test/synth/truth.js';

/** One line of DESIGN §10's table. */
export interface Row {
  readonly what: string;
  readonly ours: string;
  readonly plain: string;
  /** The least that it can be on the same faces (`limitOf`), rms. */
  readonly limit?: string;
  readonly target: string;
}

/** A class of faces by signal-to-noise ratio. */
interface SnrClass {
  readonly name: string;
  readonly holds: (face: FaceOutcome) => boolean;
}

const between = (low: number, high: number) => (face: FaceOutcome) =>
  face.signalToNoise >= low && face.signalToNoise < high;
const CLASSES = {
  high: { name: 'SNR ≥ 25', holds: between(25, Infinity) },
  middle: { name: 'SNR 12–25', holds: between(12, 25) },
  low: { name: 'SNR 8–12', holds: between(8, 12) },
  least: { name: 'SNR < 8', holds: between(-Infinity, 8) },
  all: { name: 'all', holds: () => true },
} as const satisfies Record<string, SnrClass>;

/** Beyond this a number is plainly wrong. */
export const GROSS_HZ = 3;

/**
 * DESIGN §10's table from measured faces.
 * @param faces - Outcomes of any kinds.
 * @returns Rows in the design's order; without a kind of face its rows are missing.
 */
export function accuracyRows(faces: readonly FaceOutcome[]): readonly Row[] {
  const main = faces.filter((face) => face.kind === 'main');
  const record = faces.filter((face) => face.kind === 'record');
  const refuse = faces.filter((face) => MUST_REFUSE.includes(face.kind));
  const rows: Row[] = [];
  if (main.length > 0) rows.push(...rightRows(main));
  for (const kind of ['zvd', 'ei', '2-hump', '3-hump'] as const) {
    const of = faces.filter((face) => face.kind === kind);
    if (of.length === 0) continue;
    const own = kind === 'zvd' || kind === 'ei' ? rightRows(of) : [...rightRows(of), ...recordRows(of)];
    rows.push(...own.map((row) => ({ ...row, what: `${kind}: ${row.what}` })));
  }
  if (refuse.length > 0) rows.push(...refuseRows(refuse));
  if (record.length > 0) rows.push(...recordRows(record));
  for (const kind of WRONG_SETTINGS) {
    const of = faces.filter((face) => face.kind === kind);
    if (of.length > 0) rows.push(...wrongRows(kind, of));
  }
  return rows;
}

/**
 * What several photos together gain over one.
 * @param outcomes - Outcomes of any fusions.
 * @returns Rows for each fusion; without any its rows are missing.
 */
export function fusionRows(outcomes: readonly FusionOutcome[]): readonly Row[] {
  return FUSIONS.flatMap((fusion): Row[] => {
    // A gain is told over the same faces.
    const of = outcomes.filter((one) => one.fusion === fusion);
    if (of.length === 0) return [];
    const row = (what: string, ours: string, target: string): Row => ({
      what: `${fusion} together: ${what}`,
      ours,
      plain: '–',
      target,
    });
    if (fusion === 'odd') {
      const clear = of.flatMap(({ odd }) => (odd?.measurable === true && odd.others >= 3 ? [odd] : []));
      return [
        row(
          'odd one of five named',
          `${share(clear.map(({ named }) => named))} of ${clear.length}`,
          '≥ 95 %',
        ),
      ];
    }
    const all = of.filter((one) => one.together !== undefined && one.alone.length === 3);
    const rmsOf = (what: 'nullHz' | 'combinedHz') => {
      const alone = rms(all.flatMap((one) => one.alone.map((photo) => photo[what])));
      const together = rms(all.map((one) => one.together![what]));
      return `${alone.toFixed(2)} → ${together.toFixed(2)} rms, ${(alone / together).toFixed(2)} × (n ${all.length})`;
    };
    const proposed = of.filter((one) => one.together !== undefined);
    return [
      row('null, all three proposed alone', rmsOf('nullHz'), '1.5 ×'),
      row('combined, all three proposed alone', rmsOf('combinedHz'), '–'),
      row('proposed', `${proposed.length} of ${of.length}; alone ${proposedAlone(of)}`, '–'),
      row('inside its 95 %', share(proposed.map((one) => one.together!.inside)), '93–98 %'),
    ];
  });
}

function proposedAlone(of: readonly FusionOutcome[]): string {
  return `${((100 * of.reduce((sum, one) => sum + one.alone.length, 0)) / (3 * of.length)).toFixed(0)} %`;
}

/** Errors of proposals, by what was estimated. */
const ERRORS = {
  null: (face: FaceOutcome) => off(face.fromNull, face.truth.nullHz),
  spacing: (face: FaceOutcome) => (proposed(face) ? off(face.dampedHz, face.truth.dampedHz) : undefined),
  combined: (face: FaceOutcome) => off(face.combined, face.truth.nullHz),
  damping: (face: FaceOutcome) => {
    const error = proposed(face) ? off(face.dampingRatio, face.truth.dampingRatio) : undefined;
    return error === undefined ? undefined : error / face.truth.dampingRatio;
  },
};
const LIMITS = {
  null: ({ limit }: FaceOutcome) => limit?.nullHz,
  spacing: ({ limit }: FaceOutcome) => limit?.dampedHz,
  combined: ({ limit }: FaceOutcome) => limit && 1 / Math.hypot(1 / limit.nullHz, 1 / limit.dampedHz),
  damping: ({ limit }: FaceOutcome) => limit?.dampingRelative,
};
const PLAIN = {
  null: (face: FaceOutcome) =>
    face.plain.nullHz === undefined ? undefined : face.plain.nullHz - face.truth.nullHz,
  spacing: (face: FaceOutcome) => face.plain.spacingHz - face.truth.dampedHz,
};

function rightRows(faces: readonly FaceOutcome[]): readonly Row[] {
  const { high, middle, low, least, all } = CLASSES;
  const rows: Row[] = [];
  const errorRow = (
    what: keyof typeof ERRORS,
    one: SnrClass,
    target: string,
    show: (values: readonly number[]) => string,
  ) => {
    const of = faces.filter(one.holds);
    const plain =
      what === 'null' || what === 'spacing'
        ? `${share(values(of, PLAIN[what]).map((e) => Math.abs(e) > 2))} off by > 2`
        : '–';
    const limits = values(of.filter(proposed), LIMITS[what]);
    const limit = limits.length === 0 ? '–' : what === 'damping' ? relative(limits) : rms(limits).toFixed(2);
    rows.push({ what: `${what}, ${one.name}`, ours: show(values(of, ERRORS[what])), plain, limit, target });
  };
  const hz = (list: readonly number[]) =>
    list.length === 0
      ? 'none'
      : `${rms(list).toFixed(2)} rms, ${bulk(list).toFixed(2)} bulk (n ${list.length})`;
  const relative = (list: readonly number[]) =>
    list.length === 0 ? 'none' : `${(100 * rms(list)).toFixed(1)} %`;
  const targets = {
    null: ['0.3', '0.5', '0.4'],
    spacing: ['0.12', '0.35', '0.2'],
    combined: ['–', '–', '≤ 0.18'],
    damping: ['6 %', '9 %', '10 %'],
  } as const;
  for (const what of ['null', 'spacing', 'combined', 'damping'] as const) {
    [high, middle, all].forEach((one, i) => {
      errorRow(what, one, targets[what][i]!, what === 'damping' ? relative : hz);
    });
    if (what === 'null') {
      const list = values(faces, ERRORS.null).map(Math.abs);
      const ours = list.length === 0 ? 'none' : quantile(list, 0.95).toFixed(2);
      rows.push({ what: 'null, p95 of all', ours, plain: '–', target: '≤ 0.9' });
    }
  }
  const atKnownSpeed = values(faces, (face) => off(face.atKnownSpeed, face.truth.nullHz));
  rows.push({ what: 'combined, all, speed exact', ours: hz(atKnownSpeed), plain: '–', target: '≤ 0.18' });
  for (const [one, target] of [
    [high, '92 %'],
    [middle, '85 %'],
    [low, '60 %'],
    [least, '–'],
  ] as const) {
    const of = faces.filter(one.holds);
    rows.push({
      what: `proposed, ${one.name}`,
      ours: `${share(of.map(proposed))} of ${of.length}`,
      plain: '100 %',
      target,
    });
  }
  const gross = faces.filter((face) => Math.abs(ERRORS.combined(face) ?? 0) > GROSS_HZ);
  const grossPlain = values(faces, PLAIN.null).filter((error) => Math.abs(error) > GROSS_HZ);
  rows.push({
    what: `off by > ${GROSS_HZ} Hz`,
    ours: `${gross.length} of ${faces.filter(proposed).length}`,
    plain: `${grossPlain.length} of ${faces.length}`,
    target: 'none',
  });
  for (const [one, target] of [
    [all, '1.5 %'],
    [high, '1 %'],
  ] as const) {
    for (const [key, suffix] of [
      ['combined', ''],
      ['atKnownSpeed', ', speed exact'],
    ] as const) {
      const u95 = values(faces.filter(one.holds), ({ [key]: estimate }) =>
        estimate === undefined ? undefined : (COVERAGE_95 * estimate.sd) / estimate.value,
      );
      rows.push({
        what: `U95, median, ${one.name}${suffix}`,
        ours: u95.length === 0 ? 'none' : `${(100 * quantile(u95, 0.5)).toFixed(2)} % of f`,
        plain: '–',
        target,
      });
    }
  }
  const ours = quantile(
    faces.map((face) => face.ms.ours),
    0.5,
  );
  const plain = quantile(
    faces.map((face) => face.ms.plain),
    0.5,
  );
  rows.push({
    what: 'time for a face, median',
    ours: `${(ours / plain).toFixed(1)} × plain`,
    plain: '1',
    target: '–',
  });
  return rows;
}

function refuseRows(faces: readonly FaceOutcome[]): readonly Row[] {
  const of = (name: string, some: readonly FaceOutcome[]): Row => ({
    what: `proposed in error, ${name}`,
    ours: `${some.filter(proposed).length} of ${some.length}`,
    plain: '100 %',
    target: name === 'all must-refuse' ? '≤ 5 of 2,000' : '–',
  });
  return [
    of('all must-refuse', faces),
    ...MUST_REFUSE.map((kind) => [kind, faces.filter((face) => face.kind === kind)] as const)
      .filter(([, some]) => some.length > 0)
      .map(([kind, some]) => of(kind, some)),
  ];
}

function recordRows(faces: readonly FaceOutcome[]): readonly Row[] {
  const { high, middle, low, all } = CLASSES;
  const accepted = faces.filter(proposed);
  const routes = {
    null: (face: FaceOutcome) => inside(face.fromNull, face.truth.nullHz),
    spacing: (face: FaceOutcome) => inside(face.dampedHz, face.truth.dampedHz),
    combined: (face: FaceOutcome) => inside(face.combined, face.truth.nullHz),
  };
  return [high, middle, low, all].flatMap((one) =>
    (['null', 'spacing', 'combined'] as const).map((what) => {
      const held = values(accepted.filter(one.holds), (face) => routes[what](face));
      return {
        what: `inside its 95 %: ${what}, ${one.name}`,
        ours: `${share(held)} of ${held.length}`,
        plain: '–',
        target: '93–98 %',
      };
    }),
  );
}

/** What one thing that is wrong does to the proposals. */
function wrongRows(kind: FaceKind, faces: readonly FaceOutcome[]): readonly Row[] {
  const accepted = faces.filter(proposed);
  // Where an axis swings at two frequencies, either null is an answer.
  const errors = values(accepted, (face) => {
    const first = ERRORS.combined(face);
    const other = off(face.combined, face.second?.truth.nullHz ?? Infinity);
    return first === undefined || other === undefined || Math.abs(first) < Math.abs(other) ? first : other;
  });
  const row = (what: string, ours: string, target: string): Row => ({
    what: `${kind}: ${what}`,
    ours,
    plain: '–',
    target,
  });
  const offBy = (hz: number) =>
    `${errors.filter((error) => Math.abs(error) > hz).length} of ${errors.length}`;
  const held = values(accepted, (face) => inside(face.combined, face.truth.nullHz));
  return [
    row('proposed', `${share(faces.map(proposed))} of ${faces.length}`, '–'),
    row('off by > 2 Hz', offBy(2), '≤ 2 %'),
    row(`off by > ${GROSS_HZ} Hz`, offBy(GROSS_HZ), 'none'),
    row('inside its 95 %: combined', `${share(held)} of ${held.length}`, '≥ 93 %'),
    ...(kind === 'speed-far'
      ? ([CLASSES.all, CLASSES.low, CLASSES.middle, CLASSES.high] as const).map(({ name, holds }) => {
          const of = faces.filter(holds);
          return row(
            `speed named, ${name}`,
            `${share(of.map(({ speedNamed }) => speedNamed))} of ${of.length}`,
            name === CLASSES.all.name ? '–' : '≥ 90 %',
          );
        })
      : []),
    ...(kind === 'second-mode' ? secondRows(accepted, row) : []),
    ...(kind.startsWith('alternating')
      ? [row('read from both ends', share(accepted.map(({ bothEnds }) => bothEnds)), '–')]
      : []),
  ];
}

/** How proposals fare on faces that swing at two frequencies. */
function secondRows(
  accepted: readonly FaceOutcome[],
  row: (what: string, ours: string, target: string) => Row,
): readonly Row[] {
  const told = accepted.filter((face) => face.second?.dampedHz !== undefined);
  const ofFirst = values(accepted, ERRORS.combined).filter((error) => Math.abs(error) <= 2);
  // Where the proposal is for the swing that was drawn second, the other one is what is left to tell.
  const held = values(told, (face) => {
    const { second, truth } = face;
    const near = (one: Truth | undefined) =>
      Math.abs(off(face.dampedHz, one?.dampedHz ?? Infinity) ?? Infinity);
    const left = near(second?.truth) < near(truth) ? truth : second?.truth;
    return inside(second?.dampedHz, left?.dampedHz ?? NaN) === true;
  });
  return [
    row('within 2 Hz of the one that swings further', `${ofFirst.length} of ${accepted.length}`, '–'),
    row('second told', `${share(accepted.map((face) => told.includes(face)))} of ${accepted.length}`, '–'),
    row('second inside its 95 %', `${share(held)} of ${held.length}`, '–'),
  ];
}

const proposed = (face: FaceOutcome): boolean => face.state === 'proposed';

function off(estimate: Estimate | undefined, truth: number): number | undefined {
  return estimate === undefined ? undefined : estimate.value - truth;
}

function inside(estimate: Estimate | undefined, truth: number): boolean | undefined {
  return estimate === undefined ? undefined : Math.abs(estimate.value - truth) <= COVERAGE_95 * estimate.sd;
}

function values<T>(faces: readonly FaceOutcome[], of: (face: FaceOutcome) => T | undefined): T[] {
  return faces.map(of).filter((value): value is T & {} => value !== undefined);
}

function share(list: readonly boolean[]): string {
  if (list.length === 0) return 'none';
  return `${((100 * list.filter(Boolean).length) / list.length).toFixed(1)} %`;
}

function rms(list: readonly number[]): number {
  return Math.sqrt(list.reduce((sum, value) => sum + value * value, 0) / list.length);
}

/** Rms that a normal distribution with this median deviation would have: what it is without the outliers. */
function bulk(list: readonly number[]): number {
  return quantile(list.map(Math.abs), 0.5) / 0.6745;
}

/**
 * Quantile without interpolation.
 * @param list - Values; not empty, not modified.
 * @param q - 0 to 1.
 */
function quantile(list: readonly number[], q: number): number {
  const sorted = [...list].sort((a, b) => a - b);
  return sorted[Math.min(sorted.length - 1, Math.floor(q * sorted.length))]!;
}

/**
 * Proposals that are furthest from the truth, in units of Hz.
 * @param faces - Outcomes.
 * @param count - How many.
 * @returns Worst first: first what should not have been proposed at all.
 */
export function worstFaces(faces: readonly FaceOutcome[], count: number): readonly FaceOutcome[] {
  const badness = (face: FaceOutcome) =>
    (MUST_REFUSE.includes(face.kind) ? 1000 : 0) + Math.abs(ERRORS.combined(face) ?? 0);
  // With the record's own errors in it, a face tells nothing of the method.
  return faces
    .filter((face) => proposed(face) && face.kind !== 'record')
    .sort((a, b) => badness(b) - badness(a))
    .slice(0, count);
}

/**
 * Why faces were refused that show their ripples well.
 * @param faces - Outcomes.
 * @returns Reason and number, by class.
 */
export function refusalCounts(faces: readonly FaceOutcome[]): readonly string[] {
  const main = faces.filter((face) => !MUST_REFUSE.includes(face.kind) && !proposed(face));
  return [CLASSES.high, CLASSES.middle, CLASSES.low, CLASSES.least].map((one) => {
    const counts = new Map<string, number>();
    for (const face of main.filter(one.holds)) counts.set(face.state, (counts.get(face.state) ?? 0) + 1);
    const list = [...counts].sort((a, b) => b[1] - a[1]).map(([reason, count]) => `${reason} ${count}`);
    return `${one.name}: ${list.join(', ') || 'none'}`;
  });
}
