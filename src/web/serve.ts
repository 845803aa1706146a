import { availableParallelism } from 'node:os';
import { checkLogbookPlace, InputError } from '../index.js';
import { Access, ownAddresses } from './access.js';
import { readAssets } from './assets.js';
import { buildServer } from './buildServer.js';
import { startWorkers } from './workers.js';

/** How the page is to be served. */
export interface ServeOptions {
  /** 0: any that is free. */
  readonly port: number;
  /** Opens the page to the network, for browsers that come by a link. */
  readonly lan: boolean;
  /** Folder of the logbook. */
  readonly logbook?: string;
  /** Is told of our own mistakes. */
  readonly tell: (error: unknown) => void;
  /** Is told the links that let the next browser in, once one was used. */
  readonly onLinkUsed: (links: readonly string[]) => void;
}

/** A server that answers. */
export interface RunningServer {
  /** The address on this machine. */
  readonly address: string;
  /** Links for one browser in the network, one for each of the machine's addresses there; none without `lan`. */
  readonly links: () => readonly string[];
  /** Ends all connections and work; what is being saved is saved first. */
  readonly close: () => Promise<void>;
}

/** Connections at once: a page has a few. */
const MOST_CONNECTIONS = 256;

/**
 * Serves the page until it is closed.
 * @param options - How.
 * @returns The running server.
 * @throws {InputError} `cannot-listen`, or as `checkLogbookPlace`.
 */
export async function serve(options: ServeOptions): Promise<RunningServer> {
  const { port, lan, logbook, tell, onLinkUsed } = options;
  if (logbook !== undefined) checkLogbookPlace(logbook);
  if (lan && ownAddresses().length === 0) {
    throw new InputError(
      'cannot-listen',
      'This machine is in no network that the page could be opened to.',
      'Join one, or leave --lan away.',
    );
  }
  const links = (): readonly string[] =>
    lan ? ownAddresses().map((address) => `http://${address}:${String(open)}${access.link}`) : [];
  const access = new Access(lan, () => {
    onLinkUsed(links());
  });
  const assets = readAssets();
  const workers = startWorkers(availableParallelism());
  const app = buildServer({ workers, assets, access, tell, ...(logbook === undefined ? {} : { logbook }) });
  app.server.maxConnections = MOST_CONNECTIONS;
  const close = async (): Promise<void> => {
    await app.close();
    await workers.close();
  };
  let open = port;
  try {
    await app.listen({ port, host: lan ? '0.0.0.0' : '127.0.0.1' });
  } catch (error) {
    await close();
    throw cannotListen(error, port);
  }
  const bound = app.server.address();
  if (bound !== null && typeof bound === 'object') open = bound.port;
  return { address: `http://127.0.0.1:${String(open)}/`, links, close };
}

function cannotListen(error: unknown, port: number): unknown {
  const code = error instanceof Error && 'code' in error ? error.code : undefined;
  const why =
    code === 'EADDRINUSE'
      ? 'something else answers there already'
      : code === 'EACCES'
        ? 'the system does not let this user do so'
        : undefined;
  if (why === undefined) return error;
  return new InputError(
    'cannot-listen',
    `The page cannot be opened at port ${String(port)}: ${why}.`,
    'Give another one with --port, or --port 0 for any that is free.',
  );
}
