import { createHash, randomBytes } from 'node:crypto';
import { networkInterfaces } from 'node:os';
import type { FastifyReply, FastifyRequest } from 'fastify';
import { invalid, WebProblem } from './problem.js';

/** Names under which a machine calls itself. */
const LOOPBACK = ['localhost', '127.0.0.1', '[::1]'];
const COOKIE = 'stillband';
/** Bits that nobody guesses. */
const KEY_BYTES = 16;
/** Browsers that are let in at once; the one that was let in first has to go. */
const MOST_BROWSERS = 16;

/** Who is answered: whoever asks on this machine, or also browsers in the network that came by a link. */
export class Access {
  /** The page is open to the network. */
  readonly lan: boolean;
  readonly #browsers: string[] = [];
  readonly #onUsed: () => void;
  #key = newKey();

  /**
   * @param lan - Whether the page is open to the network.
   * @param onUsed - Is told when a link was used, and another one is needed for another browser.
   */
  constructor(lan: boolean, onUsed: () => void = () => undefined) {
    this.lan = lan;
    this.#onUsed = onUsed;
  }

  /**
   * The path of the link that lets one browser in, once.
   * @returns Path and query.
   */
  get link(): string {
    return `/open?key=${this.#key}`;
  }

  /**
   * Lets a browser in by its link; the link is then used up.
   * @param key - The link's key.
   * @param reply - Gets the cookie.
   * @throws {WebProblem} `key-needed` where the link is not the present one.
   */
  letIn(key: unknown, reply: FastifyReply): void {
    if (!this.lan || typeof key !== 'string' || digest(key) !== digest(this.#key)) {
      throw new WebProblem(
        401,
        'key-needed',
        'This link was used already, or is not the one that the terminal shows.',
        'Take the link that the terminal shows now: each one lets one browser in.',
      );
    }
    this.#key = newKey();
    const ticket = newKey() + newKey();
    this.#browsers.push(digest(ticket));
    if (this.#browsers.length > MOST_BROWSERS) this.#browsers.shift();
    reply.header('set-cookie', `${COOKIE}=${ticket}; Path=/; HttpOnly; SameSite=Strict`);
    this.#onUsed();
  }

  /**
   * Refuses a request for another address, from another page, or from a browser that was not let in.
   * @param request - The request.
   * @throws {WebProblem} `host-refused`, `origin-refused` or `key-needed`.
   */
  check(request: FastifyRequest): void {
    this.checkSource(request);
    if (this.lan && !isLoopback(request.socket.remoteAddress) && !this.#isLetIn(request)) {
      throw new WebProblem(
        401,
        'key-needed',
        'This browser was not let in yet.',
        'Open the link that the terminal shows, or scan its code: each one lets one browser in.',
      );
    }
  }

  /**
   * Refuses a request for another address or from another page, whether its browser was let in or not.
   * @param request - The request.
   * @throws {WebProblem} `host-refused` or `origin-refused`.
   */
  checkSource(request: FastifyRequest): void {
    const { host = '' } = request.headers;
    if (!this.#isOwnHost(host)) {
      throw new WebProblem(
        421,
        'host-refused',
        'The page was asked for under another name than its own.',
        'Open it by the address that the terminal shows.',
      );
    }
    checkOrigin(request, host);
  }

  // A name that leads here only because somebody's name server says so is none of ours (DNS rebinding).
  #isOwnHost(host: string): boolean {
    const name = /^(.*?)(?::\d{1,5})?$/.exec(host)?.[1]?.toLowerCase() ?? '';
    return LOOPBACK.includes(name) || (this.lan && ownAddresses().includes(name));
  }

  #isLetIn(request: FastifyRequest): boolean {
    const cookies = (request.headers.cookie ?? '').split(';').map((one) => one.trim());
    const tickets = cookies
      .filter((one) => one.startsWith(`${COOKIE}=`))
      .map((one) => one.slice(COOKIE.length + 1));
    return tickets.some((ticket) => this.#browsers.includes(digest(ticket)));
  }
}

/**
 * The machine's own addresses in its networks, as they are now.
 * @returns IPv4 addresses, without loopback.
 */
export function ownAddresses(): readonly string[] {
  return Object.values(networkInterfaces()).flatMap((all) =>
    (all ?? []).flatMap(({ family, internal, address }) => (family === 'IPv4' && !internal ? [address] : [])),
  );
}

const CHANGES_NOTHING = ['GET', 'HEAD'];

/**
 * What another page makes a browser send is not answered. A browser always says where a request that changes something
 * comes from; our own script, and a program, say so by a header that no form of another page can send.
 */
function checkOrigin({ method, headers }: FastifyRequest, host: string): void {
  const { origin } = headers;
  const site = headers['sec-fetch-site'];
  const isForeign =
    origin !== undefined
      ? originHost(origin) !== host
      : CHANGES_NOTHING.includes(method)
        ? (site === 'cross-site' || site === 'same-site') && headers['sec-fetch-mode'] !== 'navigate'
        : headers['x-stillband'] !== '1';
  if (!isForeign) return;
  throw new WebProblem(
    403,
    'origin-refused',
    'The request came from another page than this one.',
    'Open the page by its own address; a program sends the header "x-stillband: 1".',
  );
}

/**
 * Beside the origin, what the page's script asks for carries a header that other pages cannot send.
 * @param request - A request that changes something.
 * @throws {WebProblem} `request-invalid`.
 */
export function expectOwnScript({ headers }: FastifyRequest): void {
  if (headers['x-stillband'] !== '1') throw invalid('The header "x-stillband: 1" is missing.');
}

function originHost(origin: string): string | undefined {
  return /^http:\/\/([^/]+)$/.exec(origin)?.[1];
}

function isLoopback(address: string | undefined): boolean {
  return address !== undefined && (/^(::ffff:)?127\./.test(address) || address === '::1');
}

function newKey(): string {
  return randomBytes(KEY_BYTES).toString('base64url');
}

/** Secrets are compared by their digests, which takes as long for each. */
function digest(secret: string): string {
  return createHash('sha256').update(secret).digest('hex');
}
