/** Markup that may stand in a page as it is. Only `html` and `trusted` make it. */
export interface Html {
  readonly markup: string;
}

/** What can be put into a template: text is escaped, lists are joined, and what is absent is nothing. */
export type HtmlPart = string | number | Html | undefined | false | readonly HtmlPart[];

/**
 * A template for markup: whatever is put in is escaped, unless it is markup itself. In attributes it is for quoted ones.
 * @param strings - The template's own text.
 * @param parts - What is put in.
 * @returns Markup.
 */
export function html(strings: TemplateStringsArray, ...parts: readonly HtmlPart[]): Html {
  return { markup: strings.reduce((before, text, i) => before + markupOf(parts[i - 1]) + text) };
}

/**
 * Markup that we drew ourselves, such as a chart.
 * @param markup - It, with every text in it escaped already.
 * @returns The same, not escaped again.
 */
export function trusted(markup: string): Html {
  return { markup };
}

const ESCAPES: Readonly<Record<string, string>> = {
  '&': '&amp;',
  '<': '&lt;',
  '>': '&gt;',
  '"': '&quot;',
  "'": '&#39;',
};

function markupOf(part: HtmlPart): string {
  if (part === undefined || part === false) return '';
  if (typeof part === 'object') return 'markup' in part ? part.markup : part.map(markupOf).join('');
  return String(part).replaceAll(/[&<>"']/g, (sign) => ESCAPES[sign] ?? sign);
}

/** The pages that every page links to, in this order. */
const PAGES = [
  { key: 'measure', path: '/', name: 'Measure' },
  { key: 'plan', path: '/plan', name: 'Plan' },
  { key: 'logbook', path: '/logbook', name: 'Logbook' },
  { key: 'trend', path: '/trend', name: 'Trend' },
  { key: 'compare', path: '/compare', name: 'Compare' },
  { key: 'decide', path: '/decide', name: 'Decide' },
] as const;

/** What a page is made of. */
export interface PageParts {
  /** Of the document; the name of the tool is put behind it. */
  readonly title: string;
  /** The link that leads to where the reader is; absent on pages that are none of them. */
  readonly nav?: (typeof PAGES)[number]['key'];
  /** What stands in `<main>`, with one `<h1>`. */
  readonly body: Html;
  /** Name of a script among the assets, like `measure.js`; most pages have none. */
  readonly script?: string;
}

/**
 * A whole page in the common layout: a link past the links, the links, the page, and what is to be minded.
 * @param parts - What it is made of.
 * @returns The document as text.
 */
export function page({ title, nav, body, script }: PageParts): string {
  const links = PAGES.map(
    ({ key, path, name }) =>
      html`<li><a href="${path}"${key === nav ? trusted(' aria-current="page"') : ''}>${name}</a></li>`,
  );
  return html`<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<title>${title} · stillband</title>
<link rel="icon" href="/assets/icon.svg" type="image/svg+xml">
<link rel="stylesheet" href="/assets/style.css">
${script === undefined ? '' : html`<script type="module" src="/assets/${script}"></script>`}
</head>
<body>
<a class="skip" href="#main">Skip to the page</a>
<header class="site">
<p class="name"><a href="/">stillband</a></p>
<nav aria-label="Pages"><ul>${links}</ul></nav>
</header>
<main id="main" tabindex="-1">
${body}
</main>
<footer class="site">
<p>Mind the machine: parts move and are hot, never raise accelerations unattended, and your machine’s limits and local rules come first.</p>
</footer>
</body>
</html>
`.markup;
}
