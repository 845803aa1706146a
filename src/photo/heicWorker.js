// @ts-check
// Plain JavaScript, so that tests and scripts, which run from the sources, can start it as a worker as well.
import { Buffer } from 'node:buffer';
import { createRequire } from 'node:module';
import { parentPort, workerData } from 'node:worker_threads';

/**
 * What is used of libheif: the functions of its C interface (libheif 1.23, `heif.h` and `heif_properties.h`), which is
 * kept alike through all versions 1. A `heif_error` is given back through the first argument: code, subcode, text.
 * @typedef {object} LibHeif
 * @property {Uint8Array} HEAPU8
 * @property {Uint32Array} HEAPU32
 * @property {(bytes: number) => number} _malloc
 * @property {() => number} _heif_context_alloc
 * @property {(error: number, context: number, at: number, bytes: number, options: number) => void} _heif_context_read_from_memory_without_copy
 * @property {(error: number, context: number, handle: number) => void} _heif_context_get_primary_image_handle
 * @property {(handle: number) => number} _heif_image_handle_has_alpha_channel
 * @property {(handle: number) => number} _heif_image_handle_get_item_id
 * @property {(error: number, handle: number, profile: number) => void} _heif_image_handle_get_nclx_color_profile
 * @property {(context: number, item: number, ids: number, count: number) => number} _heif_item_get_transformation_properties
 * @property {(context: number, item: number, property: number) => number} _heif_item_get_property_type
 * @property {() => number} _heif_decoding_options_alloc
 * @property {(error: number, handle: number, image: number, space: number, chroma: number, options: number) => void} _heif_decode_image
 * @property {(image: number, channel: number, stride: number) => number} _heif_image_get_plane_readonly
 * @property {(image: number, channel: number) => number} _heif_image_get_width
 * @property {(image: number, channel: number) => number} _heif_image_get_height
 */

/** Values of the enumerations `heif_colorspace`, `heif_chroma` and `heif_channel`. */
const COLORSPACE_RGB = 1;
const CHROMA_INTERLEAVED = { rgb: 10, rgba: 11 };
const CHANNEL_INTERLEAVED = 10;

/** Members of `heif_decoding_options` on a machine of 32 bits, bytes from its beginning. */
const CONVERT_HDR_TO_8_BITS = 20;
const STRICT_DECODING = 21;
/** Member of `heif_color_profile_nclx`, words of 32 bits from its beginning. */
const TRANSFER_CHARACTERISTICS = 2;

/** Most transformations of one picture that are looked at. */
const MOST_TRANSFORMS = 16;
const TURNS = new Set(['irot', 'imir']);

const port = /** @type {import('node:worker_threads').MessagePort} */ (parentPort);
/** @type {{ bytes: Uint8Array, library: string }} */
const { bytes, library } = workerData;
/** @type {LibHeif} */
const lib = createRequire(import.meta.url)(library);
const error = lib._malloc(12);
const pointer = lib._malloc(4);

/** @param {number} at */
const word = (at) => lib.HEAPU32[at >> 2] ?? 0;

/** @param {number} at */
function textAt(at) {
  const end = lib.HEAPU8.indexOf(0, at);
  return Buffer.from(lib.HEAPU8.subarray(at, end)).toString('latin1');
}

function check() {
  if (word(error) !== 0) throw new Error(textAt(word(error + 8)).trim());
}

/**
 * Whether the file itself tells how the picture is turned or mirrored, which is then done by the library.
 * @param {number} context
 * @param {number} handle
 */
function turnsItself(context, handle) {
  const item = lib._heif_image_handle_get_item_id(handle);
  const ids = lib._malloc(4 * MOST_TRANSFORMS);
  const count = lib._heif_item_get_transformation_properties(context, item, ids, MOST_TRANSFORMS);
  for (let i = 0; i < count; i += 1) {
    const type = Buffer.alloc(4);
    type.writeUInt32BE(lib._heif_item_get_property_type(context, item, word(ids + 4 * i)) >>> 0);
    if (TURNS.has(type.toString('latin1'))) return true;
  }
  return false;
}

/**
 * The transfer characteristics that the file names, by ITU-T H.273; 2, unspecified, where it names none.
 * @param {number} handle
 */
function transferOf(handle) {
  lib._heif_image_handle_get_nclx_color_profile(error, handle, pointer);
  return word(error) === 0 ? word(word(pointer) + 4 * TRANSFER_CHARACTERISTICS) : 2;
}

function decode() {
  const context = lib._heif_context_alloc();
  const at = lib._malloc(bytes.length);
  lib.HEAPU8.set(bytes, at);
  lib._heif_context_read_from_memory_without_copy(error, context, at, bytes.length, 0);
  check();
  lib._heif_context_get_primary_image_handle(error, context, pointer);
  check();
  const handle = word(pointer);
  const transfer = transferOf(handle);
  const channels = lib._heif_image_handle_has_alpha_channel(handle) === 0 ? 3 : 4;
  const options = lib._heif_decoding_options_alloc();
  lib.HEAPU8[options + CONVERT_HDR_TO_8_BITS] = 1;
  lib.HEAPU8[options + STRICT_DECODING] = 1;
  const chroma = channels === 3 ? CHROMA_INTERLEAVED.rgb : CHROMA_INTERLEAVED.rgba;
  lib._heif_decode_image(error, handle, pointer, COLORSPACE_RGB, chroma, options);
  check();
  const image = word(pointer);
  const plane = lib._heif_image_get_plane_readonly(image, CHANNEL_INTERLEAVED, pointer);
  return {
    plane,
    stride: word(pointer),
    width: lib._heif_image_get_width(image, CHANNEL_INTERLEAVED),
    height: lib._heif_image_get_height(image, CHANNEL_INTERLEAVED),
    channels,
    transfer,
    turned: turnsItself(context, handle),
  };
}

try {
  const { plane, stride, ...header } = decode();
  const { width, height, channels } = header;
  // Rows are given out when they are asked for, so that the picture never lies in memory twice.
  port.on('message', (/** @type {{ top: number, rows: number }} */ { top, rows }) => {
    const count = Math.min(rows, height - top);
    const strip = new Uint8Array(count * width * channels);
    for (let row = 0; row < count; row += 1) {
      const from = plane + (top + row) * stride;
      strip.set(lib.HEAPU8.subarray(from, from + width * channels), row * width * channels);
    }
    port.postMessage({ strip }, [strip.buffer]);
  });
  port.postMessage({ header });
} catch (thrown) {
  port.postMessage({ failed: thrown instanceof Error ? thrown.message : String(thrown) });
}
