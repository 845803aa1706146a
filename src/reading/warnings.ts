import { COVERAGE_95, interval95, relativeU95, type Estimate } from '../core/estimate.js';
import { looksTurned, SCALE_NAMES, shapeConflicts } from '../face/conflict.js';
import type { UsedReference } from '../face/scales.js';
import type { SeenFace, UnseenFace } from '../face/seenFace.js';
import { untoldGapMm } from '../face/untoldGap.js';
import type { Mm } from '../core/units.js';
import { ladderHeightsAt } from '../print/ladder.js';
import type { CardCode } from '../print/cardCode.js';
import type { PrintRecord } from '../print/record.js';
import { listed } from '../print/recordProblem.js';
import type { PrintSettings } from '../print/settle.js';
import type { Profiles } from '../profiles/makeProfiles.js';
import { SWAPPED_ENDS, type Ripples } from '../ripple/measureRipples.js';
import type { Decision, SeenGeometry, WallUse } from '../band/decision.js';
import { CLEAN_SHARE } from '../band/judgeNull.js';
import { marksOf } from '../band/secondOpinion.js';

/**
 * What a reader must know beside the result.
 *
 * - `corner-moved`: the face is found, and a corner that was given lies further than 0.4 % of the photo's longer side from
 *   the one that its edges make.
 * - `reference-not-found`: the record names a card, a ruler or markers that were not found in the photo.
 * - `photo-mirrored`: the marker card reads only in a mirror.
 * - `reference-off-plane`: a reference looks too large or too small for the plane of the face (by more than 1.5 % and
 *   three standard uncertainties), and nothing is told of where it lies.
 * - `reference-unsure`: a reference tells the scale to no better than 1 %, being far from a small face, or off its plane
 *   with nothing known of the camera's focal length.
 * - `card-of-another`: the marker card's code names another machine than the record, or another axis.
 * - `card-code-ignored`: the code on the marker card is of a later version, damaged, or not of a marker card.
 * - `layers-not-seen`: the record names layer lines as a reference, and they are not resolved.
 * - `size-from-reference`: the face's size was not told, so its commanded size is a physical one, 0.2–0.8 % off; or only
 *   one side was, and the other is as uncertain as the shape that the corners show.
 * - `face-looks-turned`: the corners contradict the face as told, but fit it with width and height exchanged.
 * - `face-shape-unsure`: three standard uncertainties of the shape that the corners show are more than 5 %, so that a
 *   height or an edge wrong by as much goes unnoticed; not where the shape is so far off that it is refused.
 * - `face-ends-low`: the face starts at the bed as told, or untold, and ends more than 3 % and more than a layer
 *   below the top of the tower's layers.
 * - `ends-look-swapped`: over 10 % more energy in the last third of the wall than in the first, and nothing certain of a
 *   decay behind the corner told: its damping ratio's 95 % interval reaches 0. Ripples that die out begin there, and what
 *   is louder at the far end is noise or light (of the photographs, with the ends swapped, none has a decay).
 * - `time-origin`: the amplitudes fit better when the wall starts one mean shaper delay earlier or later.
 * - `other-walls-unused`: a wall behind a slot does not count (`WallUse` in `band/decision.ts` has the reasons).
 * - `clipped-light`: more than 1 % of the face is at the brightest code.
 * - `glare-left-out`: a patch of the wall at least 4 mm wide is burnt out, and was left out (`profiles/glare.ts`).
 * - `soft-focus`: the face's edges spread by more than 3 px (standard deviation of a Gaussian).
 * - `few-px-per-ripple`: fewer than 40 px per ripple.
 * - `seam-on-corner`: the leading corner carries the seam, where the nozzle starts from rest.
 * - `pen-line-not-found`, `pen-line-differs`: the record tells a pen line, but none is seen, or further from it than 1.96
 *   standard uncertainties of their difference.
 * - `harmonic-null`: a band is proposed, and the ladder also passes a third of its frequency, where ZV, ZVD and ZVDD
 *   vanish once more.
 * - `routes-strained`: null and spacing lie more than 1.96 standard uncertainties of their difference apart.
 * - `damping-setting-off`: the shaper's damping setting lies outside the 95 % interval of the axis's damping ratio,
 *   and keeps the least ringing above what is called clean.
 * - `proof-off-setting`: the ripples of a proof print and the frequency that its shaper is set to lie over 20 % apart.
 * - `alternating-walls`: ripples begin at both ends of the wall, and the record does not tell that layers are printed in
 *   alternating directions (`ripple/bothEnds.ts`).
 * - `second-frequency`: a second swing stands out beside the first, and was taken out (`ripple/secondRipples.ts`).
 */
export const WARNING_CODES = [
  'corner-moved',
  'reference-not-found',
  'photo-mirrored',
  'reference-off-plane',
  'reference-unsure',
  'card-of-another',
  'card-code-ignored',
  'layers-not-seen',
  'size-from-reference',
  'face-looks-turned',
  'face-shape-unsure',
  'face-ends-low',
  'ends-look-swapped',
  'time-origin',
  'other-walls-unused',
  'clipped-light',
  'glare-left-out',
  'soft-focus',
  'few-px-per-ripple',
  'seam-on-corner',
  'alternating-walls',
  'second-frequency',
  'pen-line-not-found',
  'pen-line-differs',
  'harmonic-null',
  'routes-strained',
  'damping-setting-off',
  'proof-off-setting',
] as const;
export type WarningCode = (typeof WARNING_CODES)[number];

/** A warning with its sentence for the user. */
export interface Warning {
  readonly code: WarningCode;
  readonly text: string;
}

/** Some say what they are about. */
/** Null and spacing only just agree, of one photo or several. */
export const STRAINED =
  'The height where ringing vanishes and the ripple spacing only just agree: check ladder, layer height, corners, speed and size.';

const TEXTS: Readonly<Record<WarningCode, string | ((facts: WarningFacts) => string)>> = {
  'corner-moved': moved,
  'reference-not-found': notFound,
  'photo-mirrored':
    'The photo is mirrored, as front cameras keep them: the leading corner (--leading-corner) is taken as seen in the photo, where left and right are exchanged.',
  'reference-off-plane': ({ geometry }) =>
    `The reference does not lie in the plane of the face: hold it flush, or tell how far behind the face it lies (--behind-face)${
      geometry?.references.some(({ kind, use }) => kind === 'marker-card' && use === 'off-plane') === true
        ? '; or the marker card was not printed at true size: tell what its check length measures (--check-length)'
        : ''
    }.`,
  'reference-unsure':
    "The reference tells the scale to no better than 1 %: hold it close to the face and flush with it, and use the camera's own file, uncropped.",
  'card-of-another': anothersCard,
  'card-code-ignored': ({ search }) => IGNORED[search.cardCode?.state ?? 'foreign'] ?? '',
  'layers-not-seen': 'The layer lines are too fine or too faint in this photo to be counted.',
  'size-from-reference': sizeTaken,
  'face-looks-turned':
    'The corners fit a face whose width and height are exchanged: check both, and that the corners start at the top-left of the tower as printed.',
  'face-shape-unsure':
    "Seen like this, the corners cannot confirm the face's height and width: check both yourself, or take a photo from square-on and do not crop it.",
  'face-ends-low':
    'The face ends below the top of the tower: tell where it begins above the bed (--face-bottom), or correct its height, the layers or the layer height.',
  'ends-look-swapped':
    'The ripples are stronger at the far end of the face: check which corner the nozzle reaches first (--leading-corner).',
  'time-origin':
    'The ripples fit better if the move along the face is shaped otherwise than told: check --along-wall.',
  'other-walls-unused': unusedWalls,
  'clipped-light':
    'Parts of the face are burnt out, where ripples cannot be seen: expose for the bright parts.',
  'glare-left-out': glareLeftOut,
  'soft-focus':
    'The photo is not sharp: its edges, and with them size and height, may be off by more than is told. Tap to focus on the wall.',
  'few-px-per-ripple': 'There are fewer than 40 px per ripple: from nearer, the result would be surer.',
  'seam-on-corner':
    'The leading corner carries the seam, so the nozzle starts there from rest and hardly rings: put the seam on another face.',
  'alternating-walls':
    'Ripples begin at both ends of the face, as where layers are printed in alternating directions, and were read from both: tell it where it is so (--direction alternates).',
  'second-frequency': secondTold,
  'pen-line-not-found':
    'The pen line that was told is not seen on the face: its height is taken as it was typed.',
  'pen-line-differs':
    'The line seen on the face is not at the height that was told: measure it again from the bed, and check the corners.',
  'harmonic-null':
    'The ladder also passes a third of this frequency, where the shaper hides ringing as well: only the proposed height is the right one.',
  'routes-strained': STRAINED,
  'damping-setting-off':
    "The shaper's damping setting is not the damping ratio measured here: set to that, it would leave less ringing.",
  'proof-off-setting':
    'The ripples do not swing at the frequency that the shaper is set to: check the print speed, and what was set.',
};

const IGNORED: Readonly<Partial<Record<CardCode['state'], string>>> = {
  newer:
    'The code on the marker card was written by a later version of stillband and is passed over: measure with that version to use it.',
  damaged: 'The code on the marker card is damaged and is passed over: print the card again, or clean it.',
  foreign: 'The code between the squares is not that of a marker card and is passed over.',
};

const UNSURE_SHAPE = 0.05;
const CLIPPED_SHARE = 0.01;
/** Corners stay good to 1.5 px up to a blur of about 2.5 px (ray-traced photographs). */
const SOFT_PX = 3;
/** Beyond what a shaper still tolerates, 2- and 3-hump EI aside: 0.14 of ZVD and EI, and some. */
const OFF_SETTING = 0.2;
const ADVISED_PX_PER_RIPPLE = 40;

/** What the warnings are drawn from. */
export interface WarningFacts {
  /** The record as it was given. */
  readonly record: Pick<PrintRecord, 'machine' | 'axis'>;
  readonly settings: PrintSettings;
  readonly search: SeenFace | UnseenFace;
  /** Undefined where no face is read. */
  readonly geometry: SeenGeometry | undefined;
  readonly layersSeen: boolean;
  readonly profiles: Profiles | undefined;
  readonly ripples: Ripples | undefined;
  /** Undefined where only the photo was looked at. */
  readonly decision: Decision | undefined;
  /** Spacing of the ripples where none is measured: that of usual ones. */
  readonly usualSpacingMm?: Mm;
}

/**
 * Whether null and spacing only just agree.
 * @param strain - How far they lie apart, in standard uncertainties of their difference.
 * @returns True beyond 1.96.
 */
export function isStrained(strain: number): boolean {
  return strain > COVERAGE_95;
}

/**
 * Collects the warnings that apply.
 * @param facts - What was told and measured.
 * @returns Warnings in the order of `WARNING_CODES`.
 */
export function collectWarnings(facts: WarningFacts): readonly Warning[] {
  const { settings, search, geometry, profiles, ripples, decision } = facts;
  const { ringing, proposal } = decision ?? {};
  const { shaper } = settings;
  const marks = marksOf(profiles, settings, geometry);
  const spacingMm = decision?.spacingCheck.spacingMm?.value ?? facts.usualSpacingMm ?? Infinity;
  const uses = (use: UsedReference['use']) => geometry?.references.some((one) => one.use === use) ?? false;
  const applies: Readonly<Record<WarningCode, boolean>> = {
    'corner-moved': 'movedCorners' in search && search.movedCorners.length > 0,
    'reference-not-found': geometry !== undefined && search.missing.length > 0,
    'photo-mirrored': search.references.some(({ mirrored }) => mirrored === true),
    'reference-off-plane': uses('off-plane'),
    'reference-unsure': uses('unsure'),
    'card-of-another': differences(facts).length > 0,
    'card-code-ignored': search.cardCode !== undefined && search.cardCode.state !== 'read',
    'layers-not-seen':
      geometry !== undefined &&
      !facts.layersSeen &&
      settings.references.some((reference) => reference.kind === 'layers'),
    'size-from-reference': settings.face.widthMm === undefined || settings.face.heightMm === undefined,
    'face-looks-turned': geometry !== undefined && looksTurned(geometry),
    'face-shape-unsure':
      geometry?.aspect !== undefined &&
      3 * geometry.aspect.sd > UNSURE_SHAPE * geometry.aspect.value &&
      !shapeConflicts(geometry),
    'face-ends-low': geometry !== undefined && untoldGapMm(settings, geometry) > 0,
    // On a proof print noise may be most of what there is, and it grows where light falls at a grazing angle.
    'ends-look-swapped':
      proposal?.state !== 'proof' &&
      ringing !== undefined &&
      (ripples?.endRatio ?? 0) > SWAPPED_ENDS &&
      (ripples?.undamped === true || relativeU95(ringing.dampingRatio) >= 1),
    'time-origin': (decision?.nullFit?.timeOrigin ?? 0) !== 0,
    'other-walls-unused': unused(decision).length > 0,
    'clipped-light': (geometry?.clippedShare ?? 0) > CLIPPED_SHARE,
    'glare-left-out': (facts.profiles?.glare ?? []).length > 0,
    'soft-focus': (geometry?.blurPx ?? 0) > SOFT_PX,
    'few-px-per-ripple': spacingMm * (geometry?.pxPerMm.alongWall ?? Infinity) < ADVISED_PX_PER_RIPPLE,
    'seam-on-corner': settings.seam === 'leading-corner',
    'alternating-walls': ripples?.bothEnds === true && settings.direction === 'same',
    'second-frequency': ringing?.second !== undefined,
    'pen-line-not-found': marks.typed !== undefined && marks.lines.length === 0,
    'pen-line-differs': marks.typed?.contradicts === true,
    'harmonic-null':
      proposal?.state === 'proposed' &&
      shaper.family !== 'EI' &&
      ladderHeightsAt(settings.ladder, proposal.frequencyHz.value / 3).length > 0,
    'routes-strained': proposal?.state === 'proposed' && isStrained(decision?.strain ?? 0),
    'damping-setting-off':
      ringing !== undefined &&
      proposal?.state === 'proposed' &&
      proposal.cleanBandMm.mostLeft > CLEAN_SHARE &&
      outside(shaper.dampingRatio, ringing.dampingRatio),
    'proof-off-setting':
      proposal?.state === 'proof' &&
      proposal.at.state === 'measured' &&
      settings.ladder.kind === 'fixed' &&
      Math.abs(proposal.at.dampedHz.value / settings.ladder.hz - 1) > OFF_SETTING,
  };
  return WARNING_CODES.filter((code) => applies[code]).map((code) => {
    const text = TEXTS[code];
    return { code, text: typeof text === 'string' ? text : text(facts) };
  });
}

/** Where the size comes from that was not told in full. */
function sizeTaken({ settings: { face } }: WarningFacts): string {
  return face.widthMm === undefined && face.heightMm === undefined
    ? "The face's size was not told and was taken from a reference, which shrinkage makes up to 0.8 % wrong: tell its sliced size."
    : `The face's ${face.widthMm === undefined ? 'width' : 'height'} was not told and was taken from the shape that its corners show: tell it as it was sliced.`;
}

/** Where the wall is burnt out. */
function glareLeftOut({ profiles }: WarningFacts): string {
  const patches = (profiles?.glare ?? []).map(
    ({ fromMm, toMm, lowMm, highMm }) =>
      `${fromMm.toFixed(0)} to ${toMm.toFixed(0)} mm from the leading corner, ${lowMm.toFixed(0)} to ${highMm.toFixed(0)} mm up`,
  );
  return `The lamp's reflection burns the wall out, and there it is not read: ${patches.join('; ')}. Turn the lamp until the wall is even.`;
}

/** Walls behind a slot that do not count, by their place. */
function unused(decision: Decision | undefined): readonly (readonly [wall: number, use: WallUse])[] {
  return [...(decision?.walls ?? []).entries()].filter(([wall, use]) => wall > 0 && use !== 'used');
}

/** Why each wall does not count. */
function unusedWalls({ decision, profiles }: WarningFacts): string {
  const walls = unused(decision).map(([wall, use]) => {
    const startMm = profiles?.walls[wall]?.startMm ?? 0;
    return `the one from ${startMm.toFixed(1)} mm on ${WHY_UNUSED[use]}`;
  });
  return `Of the walls behind a slot, ${listed(walls)}.`;
}

const WHY_UNUSED: Readonly<Record<Exclude<WallUse, 'used'>, string>> & { readonly used?: string } = {
  'not-seen': 'is not read, as no gap shows before it: check where the slot was told (--slots)',
  'too-short': 'is too short to tell ripples',
  unfit: 'shows no ripples that can count with those at the leading corner',
  contradicts: "contradicts the ripples at the leading corner and was left out: check the slot's place",
  'not-tried':
    'is not read: on a proof print, for the spacing alone, and where layers alternate, the leading corner alone counts',
};

/** Which other frequency there is, and what the result is of. */
function secondTold({ decision }: WarningFacts): string {
  const second = decision?.ringing?.second;
  if (second === undefined) return '';
  const { value, sd } = second.frequencyHz;
  const hz = `${value.toFixed(1)} ± ${(COVERAGE_95 * sd).toFixed(1)} Hz`;
  const which =
    decision?.proposal.state === 'proposed'
      ? 'the proposal is for the stronger one'
      : 'the other is the stronger one';
  return `The ripples show a second frequency, ${hz}, ${second.share.toFixed(1)} times as strong as the first: ${which}, and this one will go on ringing. It may be the other axis, or a part that is loose.`;
}

/** Which corner lies where else, and what counts. */
function moved({ search }: WarningFacts): string {
  const corners = 'movedCorners' in search ? search.movedCorners : [];
  const off = corners.map(({ corner, offPx }) => `${corner} by ${offPx.toFixed(0)} px`);
  return `The edges that were found meet elsewhere than at the corner given (--face), ${listed(off)}, and the edges count: check it in the picture, or give all four corners, which are taken as they are.`;
}

/** Which reference is missed, what the size rests on in its place, and what to do. */
function notFound({ search, geometry }: WarningFacts): string {
  const missing = listed(search.missing.map((kind) => SCALE_NAMES[kind]));
  const others = listed((geometry?.scales ?? []).map(({ kind }) => SCALE_NAMES[kind]));
  return `In the photo ${missing} named in the print record could not be found, so the scale rests on ${others} alone: uncover the whole of it, and hold it near the face, in its plane and in its light.`;
}

/** Where the card's code and the record name different things. */
function differences({ record, search: { cardCode } }: WarningFacts): readonly string[] {
  if (cardCode?.state !== 'read') return [];
  const names = ['machine', 'axis'] as const;
  return names.flatMap((name) => {
    const [onCard, told] = [cardCode.record[name], record[name]];
    if (typeof onCard !== 'string' || told === undefined || onCard === told) return [];
    return [`${name} ${onCard}, not ${told}`];
  });
}

function anothersCard(facts: WarningFacts): string {
  return `The marker card in the photo is that of ${listed(differences(facts))}: check that this photo belongs to this record.`;
}

/** A value outside an estimate's 95 % interval. */
function outside(value: number, estimate: Estimate): boolean {
  const { low95, high95 } = interval95(estimate);
  return value < low95 || value > high95;
}
