import sharp, { type Sharp } from 'sharp';

/** Size of the drawn picture, px. */
export const DRAWN = { widthPx: 60, heightPx: 40 } as const;

/**
 * Code of a drawn px: smooth, so that lossy formats keep it, and unlike under every turning.
 * @param x - Column.
 * @param y - Row.
 * @param channel - 0 red or grey, 1 green, 2 blue.
 * @returns The code, 0 to 255.
 */
export function drawnCode(x: number, y: number, channel: number): number {
  return [40 + 2 * x, 60 + 3 * y, 50 + x + 2 * y][channel]!;
}

/**
 * The drawn picture.
 * @param channels - Grey or colour.
 * @returns It, not yet in any format.
 */
export function drawnPicture(channels: 1 | 3): Sharp {
  const { widthPx: width, heightPx: height } = DRAWN;
  const data = Uint8Array.from({ length: width * height * channels }, (_, i) => {
    const px = Math.floor(i / channels);
    return drawnCode(px % width, Math.floor(px / width), i % channels);
  });
  return sharp(data, { raw: { width, height, channels } });
}
