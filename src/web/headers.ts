import { createHash } from 'node:crypto';

const POLICY = [
  "default-src 'none'",
  "script-src 'self'",
  "style-src 'self'",
  "img-src 'self' data: blob:",
  "connect-src 'self'",
  "form-action 'self'",
  "frame-ancestors 'none'",
  "base-uri 'none'",
].join('; ');

/** What every answer says to browsers. */
export const SECURITY_HEADERS: Readonly<Record<string, string>> = {
  'content-security-policy': POLICY,
  'x-content-type-options': 'nosniff',
  'x-frame-options': 'DENY',
  'cross-origin-resource-policy': 'same-origin',
  'cross-origin-opener-policy': 'same-origin',
  // Not "no-referrer", under which browsers send "Origin: null" with our own forms (Fetch, "append a request Origin header").
  'referrer-policy': 'same-origin',
  'permissions-policy': 'camera=(self), geolocation=(), microphone=()',
  'cache-control': 'no-store',
};

/**
 * The policy for a sheet of evidence: a document by itself, with its style in it, which is allowed by its hash.
 * @param document - The sheet as HTML.
 * @returns Value of the header `content-security-policy`.
 */
export function sheetPolicy(document: string): string {
  const style = /<style>([^]*?)<\/style>/.exec(document)?.[1] ?? '';
  const hash = createHash('sha256').update(style).digest('base64');
  return `default-src 'none'; img-src data:; style-src 'sha256-${hash}'; frame-ancestors 'none'; base-uri 'none'; form-action 'none'`;
}
