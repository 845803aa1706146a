/**
 * The words of a page as they are read: no markup, all spaces alike.
 * @param markup - HTML of the server.
 * @returns Its text.
 */
export function pageText(markup: string): string {
  return markup
    .replaceAll(/<[^>]*>/g, ' ')
    .replaceAll('&lt;', '<')
    .replaceAll('&gt;', '>')
    .replaceAll('&quot;', '"')
    .replaceAll('&#39;', "'")
    .replaceAll('&amp;', '&')
    .replaceAll(/\s+/g, ' ');
}
