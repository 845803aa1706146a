import type { Reading } from '../reading/schema.js';
import { decimals, halfWidth95, withUnit } from './format.js';

type PenLine = NonNullable<Reading['penLine']>;
type Opinion = PenLine['verdict'];
type Place = Pick<PenLine, 'heightMm' | 'frequencyHz'>;

/** A slant of less than this over the wall is not worth a word, mm. */
const LEVEL_MM = 0.3;

/**
 * The second opinion on a pen line or a typed height.
 * @param reading - The reading; its own or with the result of several photos.
 * @returns One line for each thing to say; none where nothing was drawn or typed.
 */
export function penWords({
  penLine,
  printRecord,
  face,
}: Pick<Reading, 'penLine' | 'printRecord' | 'face'>): string[] {
  if (penLine === undefined) return [];
  const { source, typed, others } = penLine;
  const family = printRecord.shaper?.family;
  const shaper = family ?? 'ZV';
  const lines: string[] = [];
  if (source === 'calipers') {
    lines.push(`the height typed, ${placeWords(penLine)}`, verdictWords(penLine.verdict, shaper));
    return lines;
  }
  lines.push(
    `a ${penLine.ink ?? ''} line was found at ${placeWords(penLine)}${slantWords(penLine, face?.widthMm)}${sureWords(penLine)}`,
    verdictWords(penLine.verdict, shaper),
  );
  if (typed !== undefined) {
    const off = halfWidth95(absolute(typed.fromPhotoMm), 'mm');
    const same = `${off} from the line in the photo`;
    if (typed.contradicts) {
      lines.push(
        `the height typed, ${placeWords(typed)}, is ${same}, more than both ± allow`,
        `of the height typed: ${verdictWords(typed.verdict, shaper)}`,
      );
    } else lines.push(`the height typed, ${placeWords(typed)}, is that line: ${same}`);
  }
  for (const other of others) {
    lines.push(`another ${other.ink} line at ${placeWords(other)}${sureWords(other)}`);
  }
  return lines;
}

function placeWords({ heightMm, frequencyHz }: Place): string {
  const height = halfWidth95(heightMm, 'mm');
  return frequencyHz === undefined
    ? height
    : `${height}, where the ladder stands at ${halfWidth95(frequencyHz, 'Hz')}`;
}

function slantWords({ slantDeg = 0 }: PenLine, widthMm = 0): string {
  const riseMm = Math.tan((slantDeg * Math.PI) / 180) * widthMm;
  if (Math.abs(riseMm) < LEVEL_MM) return '';
  return `, ${riseMm > 0 ? 'rising' : 'falling'} by ${withUnit(decimals(Math.abs(riseMm), 1), 'mm')} along the wall`;
}

function sureWords({ confidence }: Pick<PenLine, 'confidence'>): string {
  return confidence === undefined || confidence > 0.95 ? '' : ', not for sure drawn by hand';
}

function verdictWords(verdict: Opinion, shaper: string): string {
  if (verdict.code === 'no-opinion') {
    return verdict.because === 'off-ladder'
      ? 'no opinion can be given: the ladder has no frequency at that height'
      : 'no opinion can be given, since no band is proposed to hold it against';
  }
  const { apartHz, apartMm, left } = verdict;
  const apart = `${withUnit(decimals(Math.abs(apartHz.value), 1), 'Hz')} (${withUnit(decimals(Math.abs(apartMm.value), 1), 'mm')}) apart`;
  const range = `${share(left.low95)} to ${withUnit(share(left.high95), '%')}`;
  const leftover = `with ${shaper} the leftover ringing would be about ${withUnit(share(left.value), '%')} (${range})`;
  switch (verdict.code) {
    case 'agrees':
      return `it agrees with ours: ${apart}, within the ±; ${leftover}`;
    case 'keep':
      return `${apart}; ${leftover}: keep yours if it is already entered`;
    case 'worth-changing':
      return `${apart}; ${leftover}, with ours about ${withUnit(share(verdict.leftAtOurs), '%')}: worth changing`;
  }
}

/** Percent, to a tenth where that says something. */
function share(value: number): string {
  return decimals(100 * value, value < 0.0995 ? 1 : 0);
}

/** An interval of a difference, told without its direction. */
function absolute(of: PenLine['heightMm']): PenLine['heightMm'] {
  if (of.value >= 0) return of;
  return { value: -of.value, sd: of.sd, low95: -of.high95, high95: -of.low95 };
}
