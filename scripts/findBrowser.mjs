/**
 * Finds a Chromium for the tests of the page, or installs one on Debian: $CHROMIUM, then the path, then as root
 * apt-get with a font package; else it says what to type. Run before `npm test` (pretest). It needs no package, so that
 * it can be run by Node alone.
 */
import { spawnSync } from 'node:child_process';
import { accessSync, constants } from 'node:fs';
import { delimiter, join } from 'node:path';
import { argv, env, exit, getuid, stderr } from 'node:process';
import { fileURLToPath } from 'node:url';

const NAMES = ['chromium', 'chromium-browser'];
const INSTALL = ['apt-get', 'install', '-y', '--no-install-recommends', 'chromium', 'fonts-dejavu-core'];

/**
 * @returns {string | undefined} Path of a browser that can be run; undefined where there is none.
 */
export function findBrowser() {
  const told = env['CHROMIUM'];
  if (told !== undefined && told !== '') return isProgram(told) ? told : undefined;
  const folders = (env['PATH'] ?? '').split(delimiter);
  return folders.flatMap((folder) => NAMES.map((name) => join(folder, name))).find(isProgram);
}

/**
 * @param {string} path
 */
function isProgram(path) {
  try {
    accessSync(path, constants.X_OK);
    return true;
  } catch {
    return false;
  }
}

function installBrowser() {
  const [program = '', ...args] = INSTALL;
  const options = {
    stdio: /** @type {const} */ ('inherit'),
    env: { ...env, DEBIAN_FRONTEND: 'noninteractive' },
  };
  spawnSync(program, ['update'], options);
  spawnSync(program, args, options);
}

if (argv[1] === fileURLToPath(import.meta.url)) {
  if (findBrowser() === undefined && env['CHROMIUM'] === undefined && getuid?.() === 0) installBrowser();
  if (findBrowser() === undefined) {
    stderr.write(
      `The tests of the page need Chromium. Install it, or name one by CHROMIUM=/path/to/it:\n  sudo ${INSTALL.join(' ')}\n`,
    );
    exit(1);
  }
}
