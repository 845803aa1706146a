import { html, type Html } from './html.js';
import type { WebError } from './problem.js';

/** A flag of a command, and the field that stands on a page in its place. */
export interface FlagAndField {
  /** With or without its argument, like `--slot <mm>`. */
  readonly flag: string;
  readonly label: string;
}

/**
 * Words made for the command line, as a page says them: it has fields where the command has flags.
 * @param text - The words.
 * @param fields - The fields of the page.
 * @returns The same with labels in place of flags; a flag or a command that stands in brackets is left out.
 */
export function inFieldWords(text: string, fields: readonly FlagAndField[]): string {
  return text.replaceAll(/ \((?:stillband [^)]*|--[^)]*)\)/g, '').replaceAll(/--[a-z][a-z-]*/g, (flag) => {
    const field = fields.find((one) => one.flag.split(' ')[0] === flag);
    return field === undefined ? flag : `“${field.label}”`;
  });
}

/**
 * What is wrong with what was asked, above the form that it was asked by.
 * @param problem - What is wrong.
 * @param fields - The fields of the form.
 * @returns Markup.
 */
export function problemHtml({ message, advice }: WebError, fields: readonly FlagAndField[]): Html {
  return html`<div class="problem" role="alert"><p>${inFieldWords(message, fields)}</p><p>${inFieldWords(advice, fields)}</p></div>`;
}
