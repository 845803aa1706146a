import { PAPERS, type Paper } from '../../index.js';
import { invalid } from '../problem.js';

/**
 * The header of a file that is saved, not shown.
 * @param name - What it is called; plain letters.
 * @returns The header.
 */
export function attached(name: string): Record<string, string> {
  return { 'content-disposition': `attachment; filename="${name}"` };
}

/**
 * The paper of a sheet, as an address names it.
 * @param given - What stands there; undefined: A4.
 * @returns The paper.
 * @throws {WebProblem} Status 400.
 */
export function paperOf(given: unknown): Paper {
  const paper = PAPERS.find((one) => one === (given ?? 'a4'));
  if (paper === undefined) throw invalid('The paper is a4 or letter.');
  return paper;
}
