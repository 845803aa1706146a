import type { Hz, Mm } from '../../core/units.js';
import { decimals, withUnit } from '../format.js';
import { element } from '../svg.js';
import { ACCENT, INK, SIZES, SOFT_INK } from './ink.js';
import { label } from './label.js';
import { profileChart, type ProfileData } from './profile.js';
import { spectrumChart, type SpectrumData } from './spectrum.js';
import type { Part } from './strip.js';
import { textWidth } from './textWidth.js';

/** Profile and spectrum at one height. */
export interface HeightViewData {
  readonly heightMm: Mm;
  readonly profile: ProfileData;
  readonly spectrum: SpectrumData;
}

/** A height and why it is shown. */
export interface NamedView {
  readonly name: string;
  readonly view: HeightViewData;
}

const HEAD_PX = 46;
const CHART_PX = 112;
const FOOT_PX = 40;
const Y_LABELS_PX = 46;
const GAP_PX = 76;
const PROFILE_SHARE = 0.62;
/** Frequencies shown reach this many times the one of the highest peak, within limits. */
const SHOWN_OVER_PEAK = 2.5;
const SHOWN_HZ = { least: 80, most: 150 } as const;

/**
 * Profile and spectrum at each of some heights, one below the other at the same scales: a quiet height looks quiet.
 * @param views - The heights, at least one.
 * @param place - Left and upper edge and width, px.
 * @returns The part.
 * @throws {RangeError} When a number is not finite.
 */
export function heightViews(
  views: readonly NamedView[],
  place: { readonly left: number; readonly top: number; readonly width: number },
): Part {
  const free = place.width - Y_LABELS_PX - GAP_PX;
  const profileWidth = free * PROFILE_SHARE;
  const profileLeft = place.left + Y_LABELS_PX;
  const spectrumLeft = profileLeft + profileWidth + GAP_PX;
  const { contrast, hz, amplitude } = sharedLimits(views.map(({ view }) => view));
  const row = HEAD_PX + CHART_PX + FOOT_PX;
  const rows = views.map(({ name, view }, i) => {
    const headY = place.top + i * row + 12;
    const top = place.top + i * row + HEAD_PX;
    return (
      label(name, place.left, headY, { sizePx: SIZES.body, bold: true }) +
      label(
        `${withUnit(decimals(view.heightMm, 1), 'mm')} up: contrast along the wall, with travel time above`,
        place.left + textWidth(name, SIZES.body, true) + 8,
        headY,
        { sizePx: SIZES.note, fill: SOFT_INK },
      ) +
      legend(
        [
          { text: 'measured', stroke: INK, 'stroke-width': 1 },
          { text: 'fitted', stroke: ACCENT, 'stroke-width': 1.8 },
        ],
        profileLeft + profileWidth,
        headY,
      ) +
      label('spectrum', spectrumLeft, headY, { sizePx: SIZES.note, fill: SOFT_INK }) +
      legend(
        [{ text: 'noise floor', stroke: SOFT_INK, 'stroke-dasharray': '2 3' }],
        place.left + place.width,
        headY,
      ) +
      profileChart(
        view.profile,
        { left: profileLeft, top, width: profileWidth, height: CHART_PX },
        contrast,
      ) +
      spectrumChart(
        view.spectrum,
        { left: spectrumLeft, top, width: free - profileWidth, height: CHART_PX },
        { hz, amplitude },
      )
    );
  });
  return { svg: element('g', { class: 'views' }, ...rows), heightPx: row * views.length };
}

/** Edges of the charts of several heights, so that a quiet height looks quiet. */
export interface SharedLimits {
  /** Relative contrast at the upper and lower edge of a profile. */
  readonly contrast: number;
  /** Frequency at the right edge of a spectrum, and relative contrast at its upper one. */
  readonly hz: Hz;
  readonly amplitude: number;
}

/**
 * The edges that profiles and spectra of several heights share.
 * @param views - The heights, at least one.
 * @returns Room for all of them.
 */
export function sharedLimits(views: readonly HeightViewData[]): SharedLimits {
  const hz = shownHz(views);
  const contrasts = views.flatMap(({ profile }) => [largest(profile.measured), largest(profile.fitted)]);
  return {
    contrast: 1.1 * largest(contrasts),
    hz,
    amplitude: 1.25 * largest(views.map(({ spectrum }) => largest(shownPart(spectrum, hz)))),
  };
}

interface LegendEntry {
  readonly text: string;
  readonly stroke: string;
  readonly 'stroke-width'?: number;
  readonly 'stroke-dasharray'?: string;
}

/** Line samples with their names, ending at the right. */
function legend(entries: readonly LegendEntry[], right: number, y: number): string {
  let end = right;
  const drawn = entries.toReversed().map(({ text, ...stroke }) => {
    const x = end - textWidth(text, SIZES.label);
    end = x - 44;
    return (
      element('line', { x1: x - 26, y1: y - 4, x2: x - 6, y2: y - 4, ...stroke }) +
      label(text, x, y, { fill: SOFT_INK })
    );
  });
  return drawn.join('');
}

/** The largest size; a tiny one instead of none, so that a scale can be made of it. */
function largest(values: ArrayLike<number>): number {
  return Array.from(values).reduce((most, value) => Math.max(most, Math.abs(value)), 1e-9);
}

function shownHz(views: readonly HeightViewData[]): Hz {
  const [highest] = views
    .map(({ spectrum }) => spectrum)
    .filter(({ significant }) => significant)
    .sort((a, b) => b.peakAmplitude - a.peakAmplitude);
  const wanted = SHOWN_OVER_PEAK * (highest?.peakHz.value ?? 0);
  return Math.min(SHOWN_HZ.most, Math.max(SHOWN_HZ.least, wanted));
}

function shownPart(spectrum: SpectrumData, hz: Hz): readonly number[] {
  return Array.from(spectrum.amplitude).filter((_, bin) => bin * spectrum.binHz <= hz);
}
