/** Fields of TIFF and EXIF that point at something that is looked into (TIFF 6.0; CIPA DC-008, Exif 2.32; from memory). */
export const TAG = {
  jpegFrom: 0x0201,
  jpegBytes: 0x0202,
  stripOffsets: 0x0111,
  stripBytes: 0x0117,
  tileOffsets: 0x0144,
  tileBytes: 0x0145,
  subIfds: 0x014a,
  xmp: 0x02bc,
  iptc: 0x83bb,
  photoshop: 0x8649,
  exifIfd: 0x8769,
  gpsIfd: 0x8825,
  makerNote: 0x927c,
  interopIfd: 0xa005,
} as const;

/** Fields that place a picture on a map: OGC GeoTIFF 1.1, and what one program adds to it (from memory). */
export const MAP_FIELDS: readonly number[] = [33550, 33920, 33922, 34264, 34735, 34736, 34737, 42112, 42113];

/** From here up numbers were given away for private use; what a standard says of them is listed below. */
const PRIVATE_FROM = 0x8000;
const KNOWN: readonly (readonly [first: number, last: number])[] = [
  [0x828d, 0x828e], // pattern of a sensor's colours
  [0x8298, 0x8298], // copyright
  [0x829a, 0x829a], // exposure time
  [0x829d, 0x829d], // aperture
  [0x83bb, 0x83bb],
  [0x8649, 0x8649],
  [0x8769, 0x8769],
  [0x8773, 0x8773], // colour profile
  [0x8822, 0x8822],
  [0x8824, 0x8825],
  [0x8827, 0x8828],
  [0x8830, 0x8835], // sensitivity
  [0x9000, 0x9004], // version, times
  [0x9010, 0x9012], // time zones
  [0x9101, 0x9102],
  [0x9201, 0x9209], // exposure, flash
  [0x920a, 0x920a], // focal length
  [0x9214, 0x9214],
  [0x9286, 0x9286], // the user's comment
  [0x9290, 0x9292],
  [0x9400, 0x9405], // temperature, humidity, tilt
  [0x9c9b, 0x9c9f], // title and comment by a file manager
  [0xa000, 0xa005],
  [0xa20b, 0xa217],
  [0xa300, 0xa302],
  [0xa401, 0xa40c], // white balance, digital zoom, focal length on film
  [0xa420, 0xa420],
  [0xa430, 0xa43c], // owner, lens, programs
  [0xa460, 0xa462],
  [0xa500, 0xa500],
  [0xc4a5, 0xc4a5], // settings for printing
  [0xc612, 0xc614], // version and model in DNG
  [0xea1c, 0xea1c], // filling
];

/**
 * Whether a field's meaning is known, so that it can be said that no position is in it.
 * @param tag - Number of the field.
 * @returns False for private fields that no standard describes.
 */
export function isKnownField(tag: number): boolean {
  return tag < PRIVATE_FROM || KNOWN.some(([first, last]) => first <= tag && tag <= last);
}

/** Bytes of one value by TIFF's number of its type; 0 stands for a type that there is not. */
export const TYPE_BYTES = [0, 1, 1, 2, 4, 8, 1, 1, 2, 4, 8, 4, 8, 4] as const;
