/**
 * Bundles what runs in the browser into dist/page: the scripts of src/page, the style sheet and the icon.
 * Run: npm run build.
 */
import { rmSync } from 'node:fs';
import { build } from 'esbuild';
import { fileURLToPath } from 'node:url';
import { argv } from 'node:process';

const at = (path: string): string => fileURLToPath(new URL(`../${path}`, import.meta.url));

/**
 * Bundles the page's files.
 * @param outdir - Folder to write to.
 */
export async function buildPage(outdir: string): Promise<void> {
  // Parts of the script have names that change with what is in them.
  rmSync(outdir, { recursive: true, force: true });
  await build({
    entryPoints: [at('src/page/measure.ts'), at('src/web/assets/style.css'), at('src/web/assets/icon.svg')],
    outdir,
    entryNames: '[name]',
    bundle: true,
    minify: true,
    format: 'esm',
    // What shows a reading comes when there is one.
    splitting: true,
    platform: 'browser',
    // Browsers of four years ago, on phones that lie beside a printer.
    target: ['chrome109', 'firefox115', 'safari16.4'],
    loader: { '.svg': 'copy' },
    // What a bundle leaves out is found by the type-check; what it cannot hold (Node) ends the build.
    logLevel: 'warning',
    tsconfig: at('tsconfig.page.json'),
  });
}

if (argv[1] === fileURLToPath(import.meta.url)) await buildPage(at('dist/page'));
