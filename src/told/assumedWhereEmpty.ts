import { optionName, RECORD_FLAGS } from '../print/overrides.js';
import { PRINT_RECORD_SCHEMA } from '../print/record.js';
import { settlePrint } from '../print/settle.js';

/**
 * What is assumed of a print where its record does not tell it, for those who fill one in.
 * @returns Values with their units, by the option names of the record's flags.
 */
export function assumedWhereEmpty(): Readonly<Record<string, string>> {
  // A usual tower: only what it leaves open is looked at.
  const { assumptions } = settlePrint({
    schema: PRINT_RECORD_SCHEMA,
    axis: '?',
    speedMmPerS: 100,
    layerHeightMm: 0.2,
    face: { widthMm: 80, heightMm: 60, leadingCorner: 'left' },
    ladder: { kind: 'linear', fromHz: 20, toHz: 60, fromMm: 0, toMm: 60 },
  });
  const entries = assumptions.flatMap(({ field, value }) => {
    const flag = RECORD_FLAGS.find(({ path }) => path === field)?.flag;
    return flag === undefined ? [] : [[optionName(flag), value] as const];
  });
  return Object.fromEntries(entries);
}
