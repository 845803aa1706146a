/**
 * The little of stillband that shells need to say what a logbook holds. `index.ts` has it as well, but takes longer to load
 * than a list of ten thousand entries to read.
 */
export { InputError } from './core/errors.js';
export { formatHead } from './logbook/head.js';
export { listEntries, logbookHead } from './logbook/listEntries.js';
export { headLine, logbookList } from './report/logbookList.js';
