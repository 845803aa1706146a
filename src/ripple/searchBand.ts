import type { Hz } from '../core/units.js';

/** Where ringing is looked for: printers ring there (common practice, no source). */
export const SEARCH_HZ: { readonly low: Hz; readonly high: Hz } = { low: 12, high: 150 };
