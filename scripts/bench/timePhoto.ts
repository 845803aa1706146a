import sharp from 'sharp';
import type * as Decide from '../../src/band/decide.js';
import type * as Read from '../../src/face/readFace.js';
import type * as See from '../../src/face/seeFace.js';
import type * as Measure from '../../src/measurePhoto.js';
import type * as Decode from '../../src/photo/decode.js';
import type * as Settle from '../../src/print/settle.js';
import type * as Make from '../../src/profiles/makeProfiles.js';
import type * as Reading from '../../src/reading/makeReading.js';
import type * as Spectra from '../../src/ripple/heightSpectra.js';
import type * as Ripple from '../../src/ripple/measureRipples.js';
import { plainScript } from '../plainScript.js';
import { readRecord, type Photo } from './photos.js';

/** What is timed. `decode` is the unit of all others: sharp's grey decode of the whole photo. */
export const PARTS = [
  'decode',
  'whole',
  'inspect',
  'decode here',
  'find',
  'flatten',
  'profiles',
  'ripples',
  'height spectra',
  'decide',
  'reading',
  'plain script',
] as const;
export type Part = (typeof PARTS)[number];
/** Milliseconds of each part in one round. */
export type Round = Readonly<Record<Part, number>>;

// What users run is timed, not what the loader of TypeScript makes of it.
const built = async <Module>(file: string): Promise<Module> =>
  (await import(new URL(`../../dist/${file}`, import.meta.url).href)) as Module;

/**
 * Loads the stages of the built program.
 * @returns A function that times all parts on one photo once. The unit stands between the whole and the
 * stages, and odd rounds run backwards, so that a drift of the machine hits all alike.
 */
export async function loadTimer(): Promise<(photo: Photo, round: number) => Promise<Round>> {
  const { measurePhoto } = await built<typeof Measure>('measurePhoto.js');
  const { settlePrint } = await built<typeof Settle>('print/settle.js');
  const { decodeShrunk, decodeWhole, inspectPhoto } = await built<typeof Decode>('photo/decode.js');
  const { seeFace, SHRUNK_PX } = await built<typeof See>('face/seeFace.js');
  const { readFace } = await built<typeof Read>('face/readFace.js');
  const { makeProfiles } = await built<typeof Make>('profiles/makeProfiles.js');
  const { measureRipples } = await built<typeof Ripple>('ripple/measureRipples.js');
  const { heightSpectrum } = await built<typeof Spectra>('ripple/heightSpectra.js');
  const { decideBand } = await built<typeof Decide>('band/decide.js');
  const { makeReading } = await built<typeof Reading>('reading/makeReading.js');

  return async (photo, round) => {
    const { bytes } = photo;
    const record = readRecord(photo);
    const { settings, assumptions, assumed } = settlePrint(record);
    const ms: Partial<Record<Part, number>> = {};
    const timed = async <T>(part: Part, job: () => T | Promise<T>): Promise<T> => {
      const start = performance.now();
      const result = await job();
      ms[part] = performance.now() - start;
      return result;
    };

    const decode = () => timed('decode', () => sharp(bytes).greyscale().raw().toBuffer());
    const whole = () => timed('whole', () => measurePhoto(bytes, record));
    const stages = async () => {
      const info = await timed('inspect', () => inspectPhoto(bytes));
      const codes = await timed('decode here', () => decodeWhole(bytes, info));
      const shrunk = () => decodeShrunk(bytes, info, SHRUNK_PX);
      const search = await timed('find', () => seeFace({ info, codes, shrunk }, settings));
      const { face, layerLines, regions } = await timed('flatten', () => {
        const read = 'cornersPx' in search ? readFace(codes, info, settings, search) : undefined;
        if (read?.state !== 'read') throw new Error(`No face is read in ${photo.name}.`);
        return read;
      });
      const profiles = await timed('profiles', () => makeProfiles(face, settings));
      const ripples = await timed('ripples', () => measureRipples(profiles, settings, assumed));
      const spectra = await timed('height spectra', () =>
        profiles.bands.map((_, band) => ripples && heightSpectrum(ripples.fit, band)),
      );
      const decision = await timed('decide', () =>
        decideBand({ settings, geometry: face, profiles, ripples, spacingOnly: false, assumed }),
      );
      const told = { info, record, settings, assumptions, assumed };
      const found = { ...told, search, geometry: face, layerLines, regions, profiles, ripples, spectra };
      await timed('reading', () => makeReading({ version: '', bytes, ...found, decision }));
      await timed('plain script', () => plainScript(face, settings));
      // The plain script needs the photo and its face as well.
      for (const part of ['inspect', 'decode here', 'find', 'flatten'] as const) {
        ms['plain script'] = (ms['plain script'] ?? 0) + (ms[part] ?? 0);
      }
    };
    const jobs = [whole, decode, stages];
    for (const job of round % 2 === 0 ? jobs : jobs.reverse()) await job();
    return ms as Round;
  };
}
