type Colour = readonly [red: number, green: number, blue: number];

/**
 * From darker than the wall to brighter, sRGB codes: blue to amber, which all kinds of colour blindness tell apart (common
 * practice, no source). Lightness climbs evenly as well (CIE L* 24, 61, 95), so that a grey print shows the same ripples.
 */
const DARKER: Colour = [23, 58, 102];
const EVEN: Colour = [150, 147, 140];
const BRIGHTER: Colour = [255, 240, 194];

/**
 * The colour of a contrast.
 * @param share - Contrast ÷ the largest shown; beyond −1 and 1 it stays the same.
 * @returns sRGB codes, 0 to 255.
 */
export function heatColour(share: number): Colour {
  const end = share < 0 ? DARKER : BRIGHTER;
  const way = Math.min(1, Math.abs(share));
  const mix = (i: 0 | 1 | 2) => Math.round(EVEN[i] + way * (end[i] - EVEN[i]));
  return [mix(0), mix(1), mix(2)];
}
